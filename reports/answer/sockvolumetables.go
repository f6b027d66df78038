package answer

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"plybook/analysis/cohort"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

const (
	// sockListsPrinted is how many lists of socks are told of, those worn at
	// most visits first.
	sockListsPrinted = 10
	// sockVisitsPrinted is how many sockets are listed in print, those furthest
	// from as much as was lost first.
	sockVisitsPrinted = 25
)

// fallsTold are the falls of volume in percent that are told in mm of a layer.
var fallsTold = []float64{2, 4, 6, 8, 10}

// listed is a list of socks with what it comes to.
type listed struct {
	words          string
	mm             float64
	beyond, single bool // single: one of the thicknesses known
	visits         int
	low, mid, high float64 // percent of the volume over limbs
}

// lists are the thicknesses known, and the lists worn most.
func (s *socksAgainst) lists() []listed {
	var out []listed
	seen := map[string]bool{"none": true, cohort.WordSheath: true}
	add := func(ply []float64, text string, single bool) {
		l := listed{words: text, single: single, visits: s.all[text]}
		l.mm, l.beyond = s.thickness.OfAll(ply)
		l.low, l.mid, l.high = s.overLimbs(layerShare(l.mm))
		out = append(out, l)
		seen[text] = true
	}
	for _, k := range s.thickness.Socks() {
		w := cohort.SocksWorn{Known: true, Ply: []float64{k.Ply}}
		add(w.Ply, w.Words(), true)
	}
	worn := map[string][]float64{}
	for _, v := range s.visits {
		worn[v.Now.Words()] = v.Now.Ply
		worn[v.Then.Words()] = v.Then.Ply
	}
	told := 0
	for _, text := range sortedKeys(s.all) {
		if ply, ok := worn[text]; ok && !seen[text] && told < sockListsPrinted {
			add(ply, text, false)
			told++
		}
	}
	return out
}

// tables puts the numbers at full precision.
func (s *socksAgainst) tables() {
	t := tableOf("visits", text("limb"), Column{Name: "date", Type: TypeDate}, number("days", "days"), text("socks_at_delivery"), text("socks"), number("mm_at_delivery", "mm"), number("mm", "mm"),
		number("worn", "%"), number("added", "%"), number("fallen", "%"), number("std_error", "%"), number("difference", "%"), number("low", "%"), number("high", "%"), flag("base_at_cast"), flag("other_measurer"))
	if s.ctx.Names.Show {
		for _, v := range s.visits {
			date := any(v.date)
			if s.ctx.Front.ShiftDates != 0 {
				date = nil
			}
			d := v.difference()
			t.row(v.Limb, date, v.Days, v.Then.Words(), v.Now.Words(), v.ThenMM, v.NowMM, v.worn, v.added, v.fallen, v.se, d, d-s.z*v.se, d+s.z*v.se, v.AtCast, v.otherMeasurer)
		}
	}
	s.addTable(t)
	a := tableOf("across", count("sockets"), count("persons"), number("worn_median", "%"), number("added_median", "%"), number("fallen_median", "%"),
		number("difference", "%"), number("std_error", "%"), number("df", ""), number("low", "%"), number("high", "%"), count("less"), count("more"), count("within_error"))
	_, worn, _, _ := quartiles(s.values(func(v *sockVisit) float64 { return v.worn }))
	_, added, _, _ := quartiles(s.values(func(v *sockVisit) float64 { return v.added }))
	_, fallen, _, _ := quartiles(s.values(func(v *sockVisit) float64 { return v.fallen }))
	m, known := s.mean, !s.hiddenCount(len(s.last)) && !s.hiddenCount(s.mean.Clusters)
	less, more, as := s.beyondError()
	a.row(len(s.last), m.Clusters, when(known, worn), when(known, added), when(known, fallen), when(known, m.Mean), when(known, m.SE), when(known, m.DF), when(known, m.Low), when(known, m.High), less, more, as)
	s.addTable(a)
	l := tableOf("socks", text("socks"), number("mm", "mm"), flag("beyond_known"), count("visits"), number("lower_quartile", "%"), number("median", "%"), number("upper_quartile", "%"))
	for _, x := range s.lists() {
		l.row(x.words, x.mm, x.beyond, x.visits, x.low, x.mid, x.high)
	}
	s.addTable(l)
	f := tableOf("falls", number("fall", "%"), number("lower_quartile", "mm"), number("median", "mm"), number("upper_quartile", "mm"))
	for _, fall := range fallsTold {
		low, mid, high := s.overLimbs(layerFor(fall))
		f.row(fall, low, mid, high)
	}
	s.addTable(f)
	e := tableOf("measuring", text("source"), number("own", "mm"), number("shared", "mm"), number("smallest_change", "%"))
	g := s.error.source == errorGirth
	e.row(s.error.source, when(g, s.error.tape.Own), when(g, s.error.tape.Shared), when(!g, s.error.percent))
	s.addTable(e)
}

// values are those of the last visits of all sockets.
func (s *socksAgainst) values(of func(v *sockVisit) float64) []float64 {
	out := make([]float64, len(s.last))
	for k, v := range s.last {
		out[k] = of(v)
	}
	return out
}

// prints adds the printed tables.
func (s *socksAgainst) prints() {
	t := document.Table{ID: s.ask.ID + "-socks", Caption: s.ofLimb("What socks stand for on the limbs of these visits", "What socks stand for on this limb"), Columns: []document.TableColumn{
		{Head: "Socks, ply of each", Wide: true}, {Head: "Thickness, in mm", Align: document.Right}, {Head: s.ofLimb("Of the volume, middle limb", "Of its volume"), Align: document.Right}, {Head: "Half of the limbs", Align: document.Right}, {Head: "Visits", Align: document.Right}},
		Notes: []string{"Thickness: " + s.sourceWords() + ". Socks one over the other add up sock by sock, not by their total ply."}}
	star := false
	for _, x := range s.lists() {
		mm := words.Fixed(x.mm, 2)
		if x.beyond {
			mm, star = mm+" *", true
		}
		t.Rows = append(t.Rows, []string{x.words, mm, words.Fixed(x.mid, 1) + "%", words.Fixed(x.low, 1) + " to " + words.Fixed(x.high, 1) + "%", s.cell(x.visits)})
	}
	if star {
		t.Notes = append(t.Notes, "* More ply than any sock whose thickness is known: carried on from the two thickest.")
	}
	f := document.Table{ID: s.ask.ID + "-falls", Caption: "The layer that makes up for a fall of the volume", Columns: []document.TableColumn{
		{Head: "Volume", Wide: true}, {Head: s.ofLimb("Layer on the middle limb, in mm", "Layer, in mm"), Align: document.Right}, {Head: "Half of the limbs", Align: document.Right}}}
	for _, fall := range fallsTold {
		low, mid, high := s.overLimbs(layerFor(fall))
		f.Rows = append(f.Rows, []string{words.Fixed(-fall, 0) + "%", words.Fixed(mid, 2), words.Fixed(low, 2) + " to " + words.Fixed(high, 2)})
	}
	if s.one != "" { // one limb has no spread
		dropColumn(&t, 3)
		dropColumn(&f, 2)
	}
	s.print(t)
	s.print(f)
	if s.ctx.Names.Show {
		s.print(s.visitsPrint())
	}
}

// ofLimb are words about all limbs, or about one.
func (s *socksAgainst) ofLimb(all, one string) string {
	if s.one != "" {
		return one
	}
	return all
}

// dropColumn takes a column out of a printed table.
func dropColumn(t *document.Table, c int) {
	t.Columns = slices.Delete(t.Columns, c, c+1)
	for i := range t.Rows {
		t.Rows[i] = slices.Delete(t.Rows[i], c, c+1)
	}
}

// visitsPrint lists the visits of one limb, or the last of each socket.
func (s *socksAgainst) visitsPrint() document.Table {
	t := document.Table{ID: s.ask.ID + "-visits", Caption: "Socks and volume at the last visit of each socket, those furthest apart first", Columns: []document.TableColumn{
		{Head: "Limb", Wide: true}, {Head: "Since delivery", Align: document.Right}, {Head: "Socks then", Align: document.Right}, {Head: "Socks now", Align: document.Right},
		{Head: "Added", Align: document.Right}, {Head: "Volume lost", Align: document.Right}, {Head: "Added less lost, " + s.confidenceWords(), Align: document.Right}}}
	list := append([]*sockVisit(nil), s.last...)
	if s.one != "" {
		t.Caption = fmt.Sprintf("Socks and volume of limb %s", s.one)
		list = s.visits
	} else {
		sort.SliceStable(list, func(a, b int) bool { return math.Abs(list[a].difference()) > math.Abs(list[b].difference()) })
	}
	for k, v := range list {
		if k == sockVisitsPrinted {
			t.Notes = append(t.Notes, fmt.Sprintf("%d of %d; all are in the numbers.", sockVisitsPrinted, len(list)))
			break
		}
		d := v.difference()
		t.Rows = append(t.Rows, []string{v.Limb, words.Span(v.Days), v.Then.Words(), v.Now.Words(), words.Fixed(v.added, 1) + "%", words.Fixed(v.fallen, 1) + "%",
			fmt.Sprintf("%s (%s)", words.Value(d, d-s.z*v.se, d+s.z*v.se), words.Interval(d-s.z*v.se, d+s.z*v.se))})
	}
	t.Notes = append(t.Notes, "Added: what the socks put on since delivery take of the volume measured near the delivery. Intervals, in points, hold the error of measuring alone: "+strings.TrimSuffix(s.error.words(), ".")+".")
	return t
}

// figures draws what socks stand for against what was lost, or one limb's both
// by time.
func (s *socksAgainst) figures() {
	if s.one != "" {
		s.oneFigure()
		return
	}
	if s.ctx.Front.HideBelow > 1 {
		return
	}
	spec := figure.FitSpec{ID: s.ask.ID, Title: "Socks added since delivery against volume lost", XAxis: "Volume lost since delivery", XUnit: "%", YAxis: "Socks added, of the volume", YUnit: "%",
		LineName: "as much as was lost", BandName: "of measuring the loss", Confidence: s.ask.Confidence}
	lo, hi := 0.0, 0.0
	var half []float64
	for _, v := range s.visits {
		spec.Points = append(spec.Points, figure.XY{X: v.fallen, Y: v.added})
		lo, hi = math.Min(lo, v.fallen), math.Max(hi, v.fallen)
		half = append(half, s.z*v.se)
	}
	_, width, _, _ := quartiles(half)
	for _, x := range []float64{lo, hi} {
		spec.Line = append(spec.Line, figure.BandPoint{X: x, Y: x, Low: x - width, High: x + width})
	}
	s.Figures = append(s.Figures, figure.Fit(spec))
}

// oneFigure draws one limb in the socket seen most often, the later of two.
func (s *socksAgainst) oneFigure() {
	most, times := "", map[string]int{}
	for _, v := range s.visits {
		if times[v.Socket]++; times[v.Socket] >= times[most] {
			most = v.Socket
		}
	}
	spec := figure.TrajectoriesSpec{ID: s.ask.ID, Title: fmt.Sprintf("Socks added and volume lost, limb %s in socket %s", s.one, most), XAxis: "Time since delivery", XDays: true, YAxis: "Of the volume near the delivery", YUnit: "%", Confidence: s.ask.Confidence, WholeBand: true}
	begin := []figure.BandPoint{{Low: math.NaN(), High: math.NaN()}} // nothing added and nothing lost at delivery
	added, lost := figure.GroupLine{Name: "socks added", Line: slices.Clone(begin)}, figure.GroupLine{Name: "volume lost", Line: begin}
	for _, v := range s.visits {
		if v.Socket != most {
			continue
		}
		added.Line = append(added.Line, figure.BandPoint{X: v.Days, Y: v.added, Low: math.NaN(), High: math.NaN()})
		lost.Line = append(lost.Line, figure.BandPoint{X: v.Days, Y: v.fallen, Low: v.fallen - s.z*v.se, High: v.fallen + s.z*v.se})
	}
	spec.Groups = []figure.GroupLine{added, lost}
	s.Figures = append(s.Figures, figure.Trajectories(spec))
}
