package figure

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
)

// FlowStep is a stage of a cohort: what is left, and what was excluded on
// the way to it.
type FlowStep struct {
	Label    string // "Definitive transtibial sockets"
	Rows     int    // left at this stage
	Said     string // printed in place of Rows where the number itself is withheld: "about 370 sockets"
	Also     string // said after the label: " of 163 persons"
	Excluded []FlowExclusion
}

// FlowExclusion is a count taken out between the stage before and this one.
type FlowExclusion struct {
	Rows   int
	Reason string
	Hidden bool // withheld: stands for few people
	// Withheld: not printed though it stands for many, and others may be.
	Withheld bool
}

// FlowSpec says what to draw.
type FlowSpec struct {
	ID    string
	Title string // default "From the log to the rows analysed"
	Rows  string // what is counted: "sockets"; default "rows"
	Steps []FlowStep
	// HideBelow withholds exclusions of 1 to HideBelow-1, and whatever else
	// they could be worked out from; 0 or 1: nothing. FlowExclusion.Hidden
	// counts as such an exclusion too.
	HideBelow int
	Width     vg.Length
}

// Flow draws what remained at each step as boxes from top to bottom, with
// what was excluded, and why, beside the arrow.
func Flow(spec FlowSpec) *Figure {
	if spec.Rows == "" {
		spec.Rows = "rows"
	}
	fig := Figure{ID: spec.ID, Title: spec.Title, Told: true}
	if fig.Title == "" {
		fig.Title = "From the log to the " + spec.Rows + " analysed"
	}
	if len(spec.Steps) == 0 {
		return nothing(fig, spec.Width, "No steps were recorded.")
	}
	hideExcluded, showRows := maskFlow(spec)
	f := &frame{scene: &scene{width: widthOr(spec.Width)}}
	const padding vg.Length = 6
	mainWide := f.width * 0.46
	sideX := f.width * 0.54
	sideWide := f.width - sideX
	y := vg.Length(-1)
	var long strings.Builder
	left := func(i int) string {
		if said := spec.Steps[i].Said; said != "" {
			return said
		}
		if showRows[i] {
			return plural(spec.Steps[i].Rows, strings.TrimSuffix(spec.Rows, "s"), spec.Rows)
		}
		return spec.Rows + " (number withheld)"
	}
	for i, s := range spec.Steps {
		if len(s.Excluded) > 0 {
			type bit struct {
				text  string
				first bool
			}
			var bits []bit
			for k, e := range s.Excluded {
				t := count(e.Rows) + " excluded"
				if hideExcluded[i][k] || e.Withheld {
					t = "Excluded (number withheld)"
				}
				if e.Reason != "" {
					t += ": " + e.Reason
				}
				fmt.Fprintf(&long, "%s. ", upper(t))
				lines, _ := plain.wrap(t, sideWide-2*padding, 0)
				for k, l := range lines {
					bits = append(bits, bit{l, k == 0})
				}
			}
			h := 2*padding - 2
			for k, b := range bits {
				h += plain.line()
				if k > 0 && b.first {
					h += 2
				}
			}
			gap := vg.Length(9)
			mid := y - gap - h/2
			f.arrow(mainWide/2, y, mainWide/2, y-2*gap-h, 0.9, quiet)
			f.arrow(mainWide/2, mid, sideX, mid, 0.9, quiet)
			side := box(sideX, mid-h/2, f.width-0.5, mid+h/2)
			f.polygon(side, wash)
			f.outline(side, hairline, axis)
			ty := mid + h/2 - padding + 1
			for k, b := range bits {
				if k > 0 && b.first {
					ty -= 2
				}
				ty -= plain.line()
				f.text(sideX+padding, ty+plain.descent(), b.text, plain, ink, fromLeft)
			}
			y -= 2*gap + h
		} else if i > 0 {
			f.arrow(mainWide/2, y, mainWide/2, y-16, 0.9, quiet)
			y -= 16
		}
		label, _ := plain.wrap(s.Label+also(s), mainWide-2*padding, 0)
		h := 2*padding + head.line() + vg.Length(len(label))*plain.line()
		b := box(0.5, y-h, mainWide, y)
		f.polygon(b, white)
		f.outline(b, 0.9, ink)
		ty := y - padding
		for _, l := range label {
			ty -= plain.line()
			f.text(mainWide/2, ty+plain.descent(), l, plain, ink, centred)
		}
		ty -= head.line()
		f.text(mainWide/2, ty+head.descent(), left(i), head, ink, centred)
		fmt.Fprintf(&long, "%s: %s%s. ", s.Label, left(i), s.Also)
		y -= h
	}
	f.below = y - 1
	last := spec.Steps[len(spec.Steps)-1]
	fig.Description = fmt.Sprintf("Flow from %s (%s) to %s (%s) in %s.", left(0), lower(spec.Steps[0].Label), left(len(spec.Steps)-1), lower(last.Label), plural(len(spec.Steps), "step", "steps"))
	fig.Long = strings.TrimSpace(long.String())
	return f.finish(fig)
}

// also is what a box says beside its label.
func also(s FlowStep) string {
	if s.Also == "" {
		return ""
	}
	return " (" + strings.TrimSpace(strings.TrimPrefix(s.Also, " of")) + ")"
}

// maskFlow settles what of a flow is printed: exclusions by step, and the
// numbers left.
func maskFlow(spec FlowSpec) (hideExcluded [][]bool, showRows []bool) {
	below := spec.HideBelow
	var excluded []int
	shown := []bool{false} // before the first box nothing is known
	at := make([]int, len(spec.Steps))
	for i, s := range spec.Steps {
		for k, e := range s.Excluded {
			if k > 0 {
				shown = append(shown, false)
			}
			if e.Hidden && below <= e.Rows {
				below = e.Rows + 1
			}
			excluded = append(excluded, e.Rows)
		}
		if len(s.Excluded) == 0 && i > 0 {
			excluded = append(excluded, 0)
		}
		if len(excluded) == len(shown) {
			shown = append(shown, true)
		} else {
			shown[len(excluded)] = true
		}
		at[i] = len(excluded)
	}
	for i, s := range spec.Steps {
		if s.Said != "" || s.Rows > 0 && s.Rows < below {
			shown[at[i]] = false
		}
	}
	hide, keep := MaskExclusions(excluded, shown, below)
	n := 0
	for i, s := range spec.Steps {
		hideExcluded = append(hideExcluded, append([]bool(nil), hide[n:n+len(s.Excluded)]...))
		n += len(s.Excluded)
		if len(s.Excluded) == 0 && i > 0 {
			n++
		}
		showRows = append(showRows, keep[at[i]])
	}
	return hideExcluded, showRows
}
