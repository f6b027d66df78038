package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/limb"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// sockStudy measured the thicknesses that are built in.
const sockStudy = "Sanders JE, Cagle JC and others. Prosthet Orthot Int 2012; 36: 77-86"

// sourceWords says whose thicknesses are used.
func (s *socksAgainst) sourceWords() string {
	var each []string
	for _, k := range s.thickness.Socks() {
		each = append(each, fmt.Sprintf("%s ply %s mm", words.Plain(k.Ply), words.Plain(k.MM)))
	}
	text := strings.Join(each, ", ") + " ("
	switch f := s.ctx.Front.SockThickness; {
	case f != nil && f.Published == "":
		return text + strings.TrimSuffix(f.Source, ".") + ")"
	case f != nil && f.Published == notebook.PublishedSocks[1]:
		return text + "socks knitted from several materials, under the load of walking; " + sockStudy + ")"
	}
	return text + "socks knitted from one material, under the load of walking; " + sockStudy + ")"
}

// otherPublished is the published list that is not used; ok is false where the
// lab has its own.
func (s *socksAgainst) otherPublished() (t limb.Thickness, name string, ok bool) {
	switch f := s.ctx.Front.SockThickness; {
	case f != nil && f.Published == "":
		return t, "", false
	case f != nil && f.Published == notebook.PublishedSocks[1]:
		return limb.OneMaterial(), "one material", true
	}
	return limb.SeveralMaterials(), "several materials", true
}

func (s *socksAgainst) cautions() {
	s.caution("no-instruction", "What socks take and what a limb has lost are told side by side. It is no instruction to add socks or to make a socket anew: how a socket fits, how the limb looks and what the person says come first, and licensed practice decides.")
	visits := 0
	for _, n := range s.all {
		visits += n
	}
	if s.several > 0 {
		thin, _ := s.thickness.OfAll([]float64{1, 1, 1})
		thick, _ := s.thickness.OfAll([]float64{3})
		s.caution("ply-not-additive", "At %s more than one sock was worn. Ply does not add up in thickness: three socks of 1 ply are %s mm here and one of 3 ply %s mm. Thickness is counted sock by sock, so that two visits of the same total ply may differ.",
			s.of(s.several, visits, "visit with a list of socks", "visits with a list of socks"), words.Fixed(thin, 1), words.Fixed(thick, 1))
	}
	if s.unsold > 0 {
		s.caution("one-number", "At %s the ply was one number in which socks are not commonly sold (these are 1, 3, 5 and 6). It was taken for one sock; if it was the total of several, they are thicker than counted here. Write the socks: 3+1.",
			s.of(s.unsold, visits, "visit with a list of socks", "visits with a list of socks"))
	}
	if other, name, ok := s.otherPublished(); ok {
		var ratio []float64
		for _, v := range s.last {
			if a, _ := v.Now.MM(other); v.NowMM > 0 {
				ratio = append(ratio, a/v.NowMM)
			}
		}
		text := ""
		if _, r, _, known := quartiles(ratio); known {
			text = fmt.Sprintf(" With socks of %s the layer would be %s times as thick on the middle limb.", name, words.Fixed(r, 2))
		}
		s.caution("published-thickness", "How thick socks are is published, not measured in this lab.%s They were measured under the load of walking; without load socks take more: on models of limbs a sock of 1 ply took 5.2%% of the volume, of 3 ply 10.4%%, of 5 ply 8.8%% (Jasken and Hall 2018), and socks thin with age. State what was measured on the lab's own under `sock_thickness` in the head of the notebook.", text)
	} else {
		s.caution("own-thickness", "How thick socks are is as the lab states it (%s). Socks are thinner under load and thin with age: thicknesses measured without load make socks stand for too much.", strings.TrimSuffix(s.ctx.Front.SockThickness.Source, "."))
	}
	var cast, far, other, small int
	for _, v := range s.last {
		if v.AtCast {
			cast++
		}
		if v.Beyond {
			far++
		}
		if v.otherMeasurer {
			other++
		}
		if math.Abs(v.fallen) < s.z*v.se {
			small++
		}
	}
	n := len(s.last)
	ofSockets := func(k int) string { return s.of(k, n, "socket", "sockets") }
	if far > 0 {
		s.caution("beyond-known", "In %s a sock has more ply than any whose thickness is known: its thickness is carried on from the two thickest.", ofSockets(far))
	}
	if cast > 0 {
		s.caution("base-at-cast", "In %s the limb was not measured near the delivery, and the measurement of the cast stands for it. What the limb lost between cast and delivery counts as lost since, while the socks worn at delivery may have made up for it already.", ofSockets(cast))
	}
	if s.error.source == errorCommon {
		s.caution("error-assumed", "The lab has stated no repeatability of its own, so intervals rest on what is common: %s. Measure some limbs twice, ask agreement of them, and set girth_repeatability or volume_repeatability in the head of the notebook.", s.error.words())
	}
	if other > 0 && s.error.source != errorCommon && s.error.tape.Measurer == 0 {
		s.caution("other-measurer", "In %s the two measurements are of different persons, while the error set is taken for that of one: those intervals are too short. State under girth_repeatability how far measurers differ.", ofSockets(other))
	}
	if 2*small > n {
		s.caution("repeatability", "In %s what was lost cannot be told from nothing: measuring an unchanged limb twice may give as much.", ofSockets(small))
	}
	if s.one == "" && s.mean.Clusters < fewLimbs {
		s.caution("few-persons", "%s: what holds for them need not hold for others.", s.only(s.mean.Clusters, "person", "persons"))
	}
	s.linerCaution(ofSockets)
	if !s.ctx.Names.Show {
		s.caution("limbs-hidden", "%s", s.ctx.Names.Why)
	}
}

// linerCaution tells what a liner beneath the socks would add where girths
// were taken over the skin.
func (s *socksAgainst) linerCaution(ofSockets func(int) string) {
	var more []float64
	for _, v := range s.last {
		if v.Over == "skin" && v.LinerMM > 0 && v.NowMM > 0 {
			p := v.Later.Profile
			both, err1 := p.Layer(v.Span, v.LinerMM+v.NowMM)
			liner, err2 := p.Layer(v.Span, v.LinerMM)
			bare, err3 := p.Layer(v.Span, v.NowMM)
			if err1 == nil && err2 == nil && err3 == nil {
				more = append(more, 100*((both-liner)/bare-1))
			}
		}
	}
	if _, r, _, ok := quartiles(more); ok {
		s.caution("over-liner", "In %s girths were taken over the skin and a liner is worn. Socks worn over it lie further out and take more than told here, %s%% more on the middle limb.", ofSockets(len(more)), words.Fixed(r, 0))
	}
}

// words is the reading and the methods sentence.
func (s *socksAgainst) words() {
	if s.one != "" {
		s.Reading = s.oneReading()
	} else {
		s.Reading = s.allReading()
	}
	s.Methods = fmt.Sprintf("The thickness of the socks worn is the sum of the thicknesses of the single socks: %s, on straight lines between them; sheaths were not counted. The volume of that layer was worked out along the limb's girths, measured within 14 days of the visit, as girth times thickness plus pi times its square (Steiner's formula, for sections that bulge outwards). It was held against the change of the limb's volume, by round sections and truncated cones over the stations of both measurements, since the measurement nearest to the delivery (within 14 days, else that of the cast), both in percent of the earlier volume. Of each socket the last such visit counts; the interval of the mean allows for several sockets of one person (CR2, Satterthwaite's degrees of freedom). Errors of volumes were propagated by the delta method: %s.",
		s.sourceWords(), s.error.words())
	s.References = append(s.References, sockStudy+".", "Jasken and Hall. J Prosthet Orthot 2018; 30(3): 140-144.")
}

// against says whether socks stand for what was lost.
func against(d, half float64) string {
	switch {
	case d < -half:
		return "less than what was lost, by more than the error of measuring"
	case d > half:
		return "more than what was lost, by more than the error of measuring"
	}
	return "as much as was lost, as far as measuring can tell"
}

func (s *socksAgainst) oneReading() string {
	v := s.visits[len(s.visits)-1]
	way, amount, low, high := "fallen", v.fallen, v.fallen-s.z*v.se, v.fallen+s.z*v.se
	if v.fallen < 0 {
		way, amount, low, high = "risen", -v.fallen, -high, -low
	}
	return fmt.Sprintf("Limb %s, %s after delivery: socks %s (%s mm) take %s%% of its volume. Those put on since delivery (then %s) stand for %s%% of the volume measured %s, which has %s by %s%% (%s %s): %s.",
		v.Limb, words.Span(v.Days), v.Now.Words(), words.Fixed(v.NowMM, 1), words.Fixed(v.worn, 1), v.Then.Words(), words.Fixed(v.added, 1), map[bool]string{true: "at the cast", false: "near the delivery"}[v.AtCast],
		way, words.Value(amount, low, high), s.confidenceWords(), words.Interval(low, high), against(v.difference(), s.z*v.se))
}

func (s *socksAgainst) allReading() string {
	_, three, _ := s.overLimbs(layerShare(first(s.thickness.Of(3))))
	_, four, _ := s.overLimbs(layerFor(4))
	text := fmt.Sprintf("On the middle limb one sock of 3 ply takes %s%% of the volume, and a fall of 4%% is made up for by a layer of %s mm.", words.Fixed(three, 1), words.Fixed(four, 1))
	if s.hiddenCount(len(s.last)) || s.hiddenCount(s.mean.Clusters) {
		return text
	}
	_, added, _, _ := quartiles(s.values(func(v *sockVisit) float64 { return v.added }))
	_, fallen, _, _ := quartiles(s.values(func(v *sockVisit) float64 { return v.fallen }))
	less, more, as := s.beyondError()
	text += fmt.Sprintf(" At the last such visit of %s, the socks put on since delivery stood for %s%% of the volume on the middle one, and the volume had fallen by %s%%.", s.n(len(s.last), "socket", "sockets"), words.Fixed(added, 1), words.Fixed(fallen, 1))
	m := s.mean
	if !math.IsNaN(m.SE) {
		text += fmt.Sprintf(" On average socks stood for %s %s than was lost (%s of added less lost: %s).", words.With(words.Value(math.Abs(m.Mean), m.Low, m.High), "point", "points"), map[bool]string{true: "less", false: "more"}[m.Mean < 0], s.confidenceWords(), words.Interval(m.Low, m.High))
	}
	return text + fmt.Sprintf(" Beyond the error of measuring: %s.", s.parts([]string{"less than lost", "more than lost", "neither"}, []int{less, more, as}))
}

func first(x float64, _ bool) float64 { return x }
