package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/limb"
	"plybook/analysis/stats"
	"plybook/reports/words"
)

// Where the error of measuring comes from.
const (
	errorGirth  = "girth"  // the front matter's girth_repeatability
	errorVolume = "volume" // the front matter's volume_repeatability
	errorCommon = "common" // what measuring an unchanged limb twice commonly gives
)

// tapeError is how far measuring a limb again gives the same.
type tapeError struct {
	source  string
	tape    limb.Tape
	percent float64 // smallest change that is told from none, 95 times of 100; of errorVolume and errorCommon
	from    string  // the lab's source, as written
}

// tapeError is what the notebook says of it.
func (w *work) tapeError() tapeError {
	f := w.ctx.Front
	switch {
	case f.GirthRepeatability != nil:
		g := f.GirthRepeatability
		return tapeError{source: errorGirth, tape: limb.Tape{Own: g.Own, Shared: g.Shared, Measurer: g.Measurer}, from: g.Source}
	case f.VolumeRepeatability > 0:
		return tapeError{source: errorVolume, percent: f.VolumeRepeatability}
	}
	return tapeError{source: errorCommon, percent: sameMeasurer}
}

// smallestDetectable is how many errors of one volume the smallest change is
// that is told from none, 95 times of 100: two volumes err.
var smallestDetectable = stats.NormalQuantile(0.975) * math.Sqrt2

// measure is a volume with its error. percent is used where none of girths is
// known.
func (e tapeError) measure(s limb.Set, over limb.Span, c limb.Cap, percent float64) (limb.Measured, error) {
	m, err := s.Measure(over, c, e.tape)
	if err == nil && e.source != errorGirth {
		m.SE = m.ML * percent / 100 / smallestDetectable / math.Sqrt(float64(max(s.Sets, 1)))
	}
	return m, err
}

// words says what the error of measuring is taken to be.
func (e tapeError) words() string {
	switch e.source {
	case errorGirth:
		text := fmt.Sprintf("girths measured again by the same person differ with a standard deviation of %s mm", words.Plain(e.tape.Own))
		if e.tape.Shared > 0 {
			text += fmt.Sprintf(" each, and all girths of one measurement together by %s mm", words.Plain(e.tape.Shared))
		} else {
			text += " each, none of it shared by the girths of one measurement"
		}
		if e.tape.Measurer > 0 {
			text += fmt.Sprintf(", those of different persons by %s mm more", words.Plain(e.tape.Measurer))
		}
		if e.from != "" {
			text += " (" + strings.TrimSuffix(e.from, ".") + ")"
		}
		return text
	case errorVolume:
		return fmt.Sprintf("the lab's own smallest change of volume that is told from none is %s%%", words.Plain(e.percent))
	}
	return fmt.Sprintf("volumes of an unchanged limb measured twice commonly differ by up to %d%% (%d%% where another person measures)", sameMeasurer, otherMeasurer)
}

// biasText tells what the assumptions of a volume cost on limbs whose volume
// is known.
func biasText(elliptical, curved bool) string {
	b := limb.KnownBias(elliptical, curved)
	sections, sides := "round", "straight sides"
	if elliptical {
		sections = "elliptical"
	}
	if curved {
		sides = "curved sides"
	}
	head := fmt.Sprintf("Volumes take sections as %s with %s between stations.", sections, sides)
	if elliptical {
		return head + fmt.Sprintf(" On five limb surfaces whose volume is known, with the widths known exactly, they came out from %s%% to %s%% against the truth; widths read by hand tell less.", words.Fixed(b.Low, 1), words.Fixed(b.High, 1))
	}
	return head + fmt.Sprintf(" On five limb surfaces whose volume is known this gave %s%% to %s%% too much: no volume in ml here is truer than that. Of a change it matters only by how much the two volumes are off differently: at most %s points between those five, though over one stretch they differ in volume more than twofold.",
		words.Fixed(b.Low, 1), words.Fixed(b.High, 1), words.Fixed(b.High-b.Low, 1))
}

// volumeBias raises the bias of volumes in ml where the ask prints them.
func (w *work) volumeBias() {
	if w.usesVolume() {
		w.caution("round-sections", "%s", biasText(false, false))
	}
}

// usesVolume says whether the ask names the column of volumes in ml.
func (w *work) usesVolume() bool {
	for _, k := range columnsUsed(w.ask) {
		if k.name == "volume_ml" {
			c, err := w.table.Lookup("volume_ml")
			return err == nil && !c.Own
		}
	}
	return false
}
