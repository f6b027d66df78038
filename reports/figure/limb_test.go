package figure

import (
	"fmt"
)

// sampleLimb marks regions of a level, the first the most; all of them where
// none are named.
func sampleLimb(level string, regions ...string) LimbSpec {
	s := LimbSpec{ID: "limb", Title: "Findings by region", Level: level, What: "visits with a finding", Times: []LimbTime{{}}}
	if regions == nil {
		regions = LimbRegions(level)
	}
	for i, r := range regions {
		n := 41 / (i + 1)
		if n == 0 {
			n = 1
		}
		s.Times[0].Marks = append(s.Times[0].Marks, LimbMark{Region: r, Name: upper(r), Tissue: LimbTissue(i % 3), Count: n, Per100: float64(n) / 4, Text: fmt.Sprintf("%d (%.1f)", n, float64(n)/4)})
	}
	return s
}

func sampleLimbTimes() LimbSpec {
	s := sampleLimb("transtibial", "anterior distal tibia", "fibular head", "tibial crest", "patellar tendon", "distal fibula", "patella", "distal end", "popliteal area")
	since := LimbTime{Name: "Since 2 March 2025 (388 visits with the skin checked)"}
	for _, m := range s.Times[0].Marks[1:5] {
		m.Per100, m.Text = m.Per100*0.6, "9 (2.3)"
		since.Marks = append(since.Marks, m)
	}
	s.Times[0].Name = "Before 2 March 2025 (412 visits with the skin checked)"
	s.Times = append(s.Times, since)
	s.Notes = []string{"Right and left limbs are drawn on one right limb. A region seen from two sides is marked on both and counted once."}
	return s
}

// sampleLimbs are the limbs of the contact sheet.
func sampleLimbs() map[string]*Figure {
	narrow := sampleLimb("transtibial", "fibular head", "anterior distal tibia")
	narrow.Width = HalfWidth * 1.4
	out := map[string]*Figure{
		"limb-times":  Limb(sampleLimbTimes()),
		"limb-narrow": Limb(narrow),
		"limb-bare":   Limb(LimbSpec{Level: "transfemoral", What: "visits with a finding", Times: []LimbTime{{}}}),
		"limb-none":   Limb(LimbSpec{Level: "partial foot"}),
		"limb":        Limb(sampleLimb("transtibial", "anterior distal tibia", "fibular head", "tibial crest", "patellar tendon", "distal fibula", "patella", "distal end", "scar")),
	}
	for _, level := range []string{"transtibial", "transfemoral", "knee disarticulation", "transradial", "transhumeral"} {
		out["limb-all-"+level] = Limb(sampleLimb(level))
	}
	return out
}
