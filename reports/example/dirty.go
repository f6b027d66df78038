package example

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"

	"plybook/ingest"
)

// Defect is a kind of fault planted in the messy log.
type Defect string

// The faults planted. Rows and values are chosen without regard to what
// became of the socket, and whole rows that are lost (unknown socket, bad
// date, the same identifier twice) were added for the purpose: what is left
// after reading has the same truth as the clean log.
const (
	UnknownSocket    Defect = "visit of a socket that is not in the log"
	UnknownVisit     Defect = "finding of a visit that is not in the log"
	BadDate          Defect = "date that does not exist"
	FarDate          Defect = "date decades outside the log"
	BadComfort       Defect = "comfort outside 0 to 10"
	BadGirth         Defect = "girth no limb can have"
	BadPly           Defect = "ply turned into a date by the spreadsheet"
	EndedEarly       Defect = "socket ended before it was delivered"
	BeforeBirth      Defect = "amputated before birth"
	TwoEveryday      Defect = "spare written down as a second everyday socket"
	DiedOpen         Defect = "socket left open though the person died"
	UnknownReason    Defect = "reason that is no known word"
	DuplicateRow     Defect = "row repeated exactly"
	DuplicateID      Defect = "identifier of an earlier row with other values"
	UnknownWord      Defect = "word that is in no vocabulary"
	IdentifyingEntry Defect = "telephone number"
)

// Planted is a fault and the cell it was planted in. For whole rows the cell
// is the one that shows the fault, or the first.
type Planted struct {
	What  Defect
	File  string // name of the workbook
	Sheet string
	Row   int // 1-based
	Col   int // 1-based
}

// Plant lists the faults of the messy log that Write writes with this seed.
func Plant(seed uint64) []Planted {
	var out []Planted
	for _, s := range messy(Draw(seed), seed) {
		for i, r := range s.rows {
			for _, f := range r.faults {
				out = append(out, Planted{f.what, s.file, s.name, i + 2, f.column + 1})
			}
		}
	}
	return out
}

// messy lays a clean log out as it was really typed.
func messy(log *ingest.Log, seed uint64) []*sheet {
	d := &dirt{r: rand.New(rand.NewPCG(seed, 0x64697274))}
	sheets := tidy(log)
	for _, s := range sheets {
		switch s.name {
		case ingest.TableLimbs:
			d.limbs(s)
		case ingest.TableSockets:
			d.sockets(s)
		case ingest.TableStations:
			d.stations(s)
		case ingest.TableForming:
			d.forming(s)
		case ingest.TableVisits:
			d.visits(s)
		case ingest.TableFindings:
			d.findings(s)
		}
	}
	return sheets
}

// dirt makes a tidy sheet messy. It draws from a stream of its own, so that
// how a value is spelled has nothing to do with the value.
type dirt struct{ r *rand.Rand }

func (d *dirt) chance(p float64) bool { return d.r.Float64() < p }

func (d *dirt) one(list ...string) string { return list[d.r.IntN(len(list))] }

// some picks n different rows that suit, in the order of the sheet's rows at
// random; fewer where fewer suit.
func (d *dirt) some(s *sheet, n int, suits func(r *row) bool) []*row {
	var out []*row
	for _, i := range d.r.Perm(len(s.rows)) {
		if len(out) == n {
			break
		}
		if r := s.rows[i]; len(r.faults) == 0 && suits(r) {
			out = append(out, r)
		}
	}
	return out
}

// spell replaces a word by one of the ways it is written here, with chance p.
func (d *dirt) spell(s *sheet, column string, p float64, ways map[string][]string) {
	c := s.col(column)
	for _, r := range s.rows {
		w, ok := r.cells[c].(string)
		if list := ways[w]; ok && len(list) > 0 && d.chance(p) {
			r.cells[c] = list[d.r.IntN(len(list))]
		}
	}
}

// respell applies a way of writing to a number of cells' values.
func (d *dirt) respell(s *sheet, column string, p float64, write func(v float64) any) {
	c := s.col(column)
	for _, r := range s.rows {
		if v, ok := r.cells[c].(float64); ok && d.chance(p) {
			r.cells[c] = write(v)
		}
	}
}

// textDates types a share of a column's dates as text, in one order
// throughout.
func (d *dirt) textDates(s *sheet, column string, p float64, layout string) {
	c := s.col(column)
	for _, r := range s.rows {
		if on, ok := r.cells[c].(ingest.Date); ok && d.chance(p) {
			r.cells[c] = dateOf(on).Format(layout)
		}
	}
}

// repeat adds exact copies of n rows, each right after its original or a few
// rows further down.
func (d *dirt) repeat(s *sheet, n int) {
	for range n {
		i := d.r.IntN(len(s.rows))
		for len(s.rows[i].faults) > 0 || blankRow(s.rows[i]) {
			i = d.r.IntN(len(s.rows))
		}
		c := s.rows[i].copyOf()
		c.faults = []fault{{0, DuplicateRow}}
		s.insert(min(i+1+d.r.IntN(4), len(s.rows)), c)
	}
}

func blankRow(r *row) bool {
	for _, c := range r.cells {
		if c != nil {
			return false
		}
	}
	return true
}

// gaps leaves n rows blank between others.
func (d *dirt) gaps(s *sheet, n int) {
	for range n {
		s.insert(1+d.r.IntN(len(s.rows)-1), &row{cells: make([]any, len(s.head))})
	}
}

// sample is a random row's copy, to be given faults and added.
func (d *dirt) sample(s *sheet) *row {
	for {
		if r := s.rows[d.r.IntN(len(s.rows))]; len(r.faults) == 0 && !blankRow(r) {
			return r.copyOf()
		}
	}
}

func (d *dirt) add(s *sheet, r *row) { s.insert(d.r.IntN(len(s.rows)+1), r) }

func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func (d *dirt) limbs(s *sheet) {
	s.head = append(s.head, "Phone")
	for _, r := range s.rows {
		r.cells = append(r.cells, nil)
		if d.chance(0.3) {
			// The numbers set aside for fiction.
			s.plant(r, "Phone", fmt.Sprintf("555-01%02d", d.r.IntN(100)), IdentifyingEntry)
		}
	}
	d.spell(s, "level", 0.6, map[string][]string{
		"transtibial":          {"TT", "TT", "BK", "BK", "below knee", "Transtibial", "trans-tibial", "B/K"},
		"transfemoral":         {"TF", "AK", "above knee", "Transfemoral", "AKA"},
		"knee disarticulation": {"KD", "through knee", "knee disartic"},
		"transradial":          {"TR", "below elbow", "BE"},
	})
	d.spell(s, "side", 0.5, map[string][]string{"left": {"L", "Left", "LEFT"}, "right": {"R", "Right", "Rt"}})
	d.spell(s, "cause", 0.4, map[string][]string{
		"vascular": {"PVD", "Vascular", "arterial", "vasculer"}, "diabetes": {"DM", "diabetic", "Diabetes"},
		"trauma": {"RTA", "traumatic", "Trauma"}, "tumour": {"tumor", "Tumour"}, "infection": {"Infection", "infected"},
	})
	d.spell(s, "sex", 0.8, map[string][]string{"male": {"M", "m"}, "female": {"F", "f"}})
	d.spell(s, "activity", 0.2, map[string][]string{"K1": {"k1", "1"}, "K2": {"k2", "2"}, "K3": {"k3", "3"}, "K4": {"k4"}})
	d.textDates(s, "amputated", 0.15, "2/1/2006")
	amputated, born := s.col("amputated"), s.col("born")
	for _, r := range d.some(s, 1, func(r *row) bool { return r.cells[amputated] != nil && r.cells[born] != nil }) {
		s.plant(r, "amputated", day(int(r.cells[born].(float64))-22, 3, 9), BeforeBirth)
	}
	for _, r := range d.some(s, 2, func(*row) bool { return true }) {
		s.plant(r, "cause", d.one("see letter", "ask ward"), UnknownWord)
	}
}

func (d *dirt) sockets(s *sheet) {
	kind, use, limb := s.col("kind"), s.col("use"), s.col("limb")
	delivered, decided, ended, reason := s.col("delivered"), s.col("remake_decided"), s.col("ended"), s.col("end_reason")
	is := func(c int, w string) func(*row) bool { return func(r *row) bool { return r.cells[c] == w } }

	// Faults first, while cells still hold what was meant.
	for _, r := range d.some(s, 2, func(r *row) bool {
		return r.cells[kind] == kindPreparatory && r.cells[delivered] != nil && r.cells[ended] != nil
	}) {
		s.plant(r, "ended", r.cells[delivered].(ingest.Date)-ingest.Date(20+d.r.IntN(60)), EndedEarly)
	}
	open := func(r *row) bool {
		return r.cells[kind] == kindDefinitive && r.cells[delivered] != nil && r.cells[ended] == nil && r.cells[decided] == nil
	}
	worn := map[any]bool{} // limbs with an everyday socket in use
	for _, r := range s.rows {
		if open(r) && r.cells[use] == "everyday" {
			worn[r.cells[limb]] = true
		}
	}
	for _, r := range d.some(s, 2, func(r *row) bool { return r.cells[use] == "spare" && open(r) && worn[r.cells[limb]] }) {
		s.plant(r, "use", "everyday", TwoEveryday)
	}
	for _, r := range d.some(s, 3, is(reason, reasonDied)) {
		s.set(r, "end_reason", nil)
		s.plant(r, "ended", nil, DiedOpen)
	}
	// Reasons nobody can read stand on check sockets, whose ends no question
	// about longevity uses.
	for _, r := range d.some(s, 3, func(r *row) bool { return r.cells[kind] == kindCheck && r.cells[reason] == "planned step" }) {
		s.plant(r, "end_reason", d.one("see card", "as discussed", "ask at bench"), UnknownReason)
	}
	d.spellReasons(s)
	d.spell(s, "kind", 0.5, map[string][]string{
		kindCheck: {"Check", "chk", "test socket", "diagnostic"}, kindPreparatory: {"prep", "temporary"},
		kindDefinitive: {"Definitive", "def", "def.", "final"},
	})
	d.spell(s, "use", 0.15, map[string][]string{"everyday": {"Everyday", "daily"}, "spare": {"backup"}, "water": {"shower"}, "sport": {"running"}})
	d.spell(s, "shape_method", 0.3, map[string][]string{"hand": {"Hand", "plaster"}, "digital": {"CAD", "scan"}})
	d.respell(s, "liner_mm", 0.2, func(v float64) any { return plain(v) + " mm" })
	d.textDates(s, "referred", 1, "02/01/2006")
	d.textDates(s, "delivered", 0.2, "2.1.2006")
	d.textDates(s, "ended", 0.25, "2006-01-02")
	for _, r := range d.some(s, 12, is(use, "everyday")) {
		s.set(r, "use", nil)
	}
	for _, r := range d.some(s, 2, func(r *row) bool { return true }) {
		s.plant(r, "ordered", "31.02.2025", BadDate)
	}
	d.repeat(s, 3)
	d.gaps(s, 2)
}

// spellReasons writes reasons for the end as people do: without "remake",
// in other words, with a slip of one letter.
func (d *dirt) spellReasons(s *sheet) {
	d.spell(s, "end_reason", 0.75, map[string][]string{
		"remake: volume loss":                {"volume loss", "volume loss", "Volume loss", "shrinkage", "vol loss", "volumn loss"},
		"remake: pain or pressure":           {"pain", "pressure", "pain/pressure"},
		"remake: skin breakdown":             {"skin breakdown", "skin", "ulcer"},
		"remake: breakage or wear":           {"cracked", "broken", "worn out", "breakage", "delamination"},
		"remake: casting or measuring error": {"casting error", "bad cast"},
		"remake: shaping error":              {"shaping error", "rectification error"},
		"remake: fabrication error":          {"fabrication error", "lamination error"},
		"remake: suspension":                 {"suspension", "loss of suspension"},
		"remake: weight change":              {"weight gain", "weight change"},
		"remake: volume gain":                {"volume gain"},
		"remake: alignment or length":        {"alignment", "too long"},
		"component or activity change":       {"new foot", "new knee", "component change"},
		"preference":                         {"patient preference"},
		"lost or stolen":                     {"stolen", "lost leg"},
		"planned step":                       {"planned", "check to definitive", "to definitive"},
		"stopped wearing":                    {"not wearing", "gave up"},
		"moved away":                         {"moved", "other clinic"},
		"lost to follow-up":                  {"LTFU", "no contact"},
		"died":                               {"Died", "deceased"},
	})
}

func (d *dirt) stations(s *sheet) {
	limb, date, by := s.col("limb"), s.col("date"), s.col("measured_by")
	girths := []int{s.col("limb_mm"), s.col("target_mm"), s.col("model_mm")}
	switch s.file {
	case fileTapeCM:
		// In 2025 the lab went over to mm; before, everything is in cm, and
		// the headers say so.
		for _, c := range append([]int{s.col("station_mm")}, girths...) {
			for _, r := range s.rows {
				if v, ok := r.cells[c].(float64); ok {
					r.cells[c] = v / 10
				}
			}
			s.head[c] = strings.ToUpper(s.head[c][:1]) + strings.TrimSuffix(s.head[c][1:], "_mm") + " (cm)"
		}
		d.tapeFaults(s, "Limb (cm)")
	default:
		// Five times somebody forgot, and wrote the unit beside it.
		for _, r := range d.some(s, 5, func(r *row) bool { return r.cells[by] == "T2" }) {
			point := d.chance(0.5)
			for _, same := range s.rows {
				if same.cells[limb] != r.cells[limb] || same.cells[date] != r.cells[date] || same.cells[by] != r.cells[by] {
					continue
				}
				for _, c := range girths {
					if v, ok := same.cells[c].(float64); ok {
						same.cells[c] = inCM(v, point)
					}
				}
			}
		}
		d.tapeFaults(s, "limb_mm")
	}
	d.textDates(s, "date", 0.15, "02/01/2006")
	d.repeat(s, 3)
	d.gaps(s, 2)
}

// tapeFaults adds rows with a girth in the wrong unit.
func (d *dirt) tapeFaults(s *sheet, girth string) {
	for range 2 {
		r := d.sample(s)
		s.set(r, "repeat", "3")
		s.plant(r, girth, "3.2 mm", BadGirth)
		d.add(s, r)
	}
}

// inCM writes mm as cm, with a decimal point or a comma.
func inCM(mm float64, point bool) string {
	s := strconv.FormatFloat(mm/10, 'f', 1, 64)
	if !point {
		s = s[:len(s)-2] + "," + s[len(s)-1:]
	}
	return s + " cm"
}

func (d *dirt) forming(s *sheet) {
	d.respell(s, "oven_c", 0.1, func(v float64) any { return plain(v) + " C" })
	d.respell(s, "sheet_mm", 0.2, func(v float64) any { return plain(v) + "mm" })
	d.textDates(s, "date", 0.3, "02.01.2006")
	d.repeat(s, 2)
}

func (d *dirt) findings(s *sheet) {
	d.spell(s, "finding", 0.4, map[string][]string{
		"redness fading": {"blanching redness", "redness fades"}, "redness persisting": {"persistent redness", "non-blanching"},
		"callus": {"Callus", "hard skin"}, "blister": {"Blister", "blisters"}, "abrasion": {"graze", "rub"}, "ulcer": {"open area", "wound"},
		"pain": {"tender", "Pain"}, "bruise": {"bruising"}, "none": {"nothing", "OK"},
	})
	d.spell(s, "region", 0.4, map[string][]string{
		"fibular head": {"fib head", "FH", "head of fibula"}, "anterior distal tibia": {"distal tibia", "ADT"},
		"tibial crest": {"crest", "shin"}, "patellar tendon": {"PT", "patella tendon"}, "distal end": {"end", "distal"},
		"ischial tuberosity": {"ischium", "IT"}, "adductor longus tendon": {"adductor longus"}, "distal lateral femur": {"DLF"},
		"scar": {"suture line", "Scar"}, "patella": {"kneecap"},
	})
	r := d.sample(s)
	s.plant(r, "visit", "V9"+strconv.Itoa(1000+d.r.IntN(9000)), UnknownVisit)
	d.add(s, r)
	d.repeat(s, 1)
}
