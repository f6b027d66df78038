package export

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/disclose"
	"plybook/analysis/table"
)

// person is one person of the log.
type person struct {
	id, code  string
	zero      float64 // day 0 of all days of the person; NaN where nothing is dated
	delivered bool    // day 0 is a delivery
	limbs     []int   // rows of the table of limbs
	removed   bool
}

// notRecorded is what stands where a value that may tell people apart is not
// in the log. Not to be in the log is something to be told by as well.
const notRecorded = "not recorded"

// worth says which columns are made coarser last: those on which most
// questions of a cohort of sockets turn.
var worth = map[string]float64{"level": 4, "cause": 4, "sex": 2, ageBand: 2, "activity": 2, firstYear: 1, "programme": 1, "site": 1, "side": 1}

// gather finds the persons, their limbs and their day 0.
func (m *maker) gather() error {
	for _, name := range cohort.Names() {
		t, err := m.src.Context.Cohort.Rows(name)
		if err != nil {
			return err
		}
		m.rows[name] = t
	}
	limbs := m.rows[cohort.Limbs]
	for i, id := range textOf(limbs, "person") {
		if id == "" {
			continue
		}
		k, ok := m.byID[id]
		if !ok {
			k = len(m.people)
			m.byID[id] = k
			m.people = append(m.people, &person{id: id, zero: math.NaN()})
		}
		m.people[k].limbs = append(m.people[k].limbs, i)
	}
	if len(m.people) == 0 {
		return ErrEmpty
	}
	m.dayZero()
	return nil
}

// dayZero sets day 0 of each person: the first delivery of a socket that is no
// check socket; else the first day of anything that was done; else the
// amputation.
func (m *maker) dayZero() {
	earliest := func(name, column string, use func(t *table.Table, i int) bool) []float64 {
		out := make([]float64, len(m.people))
		for i := range out {
			out[i] = math.NaN()
		}
		t := m.rows[name]
		day := numOf(t, column)
		for i, id := range textOf(t, "person") {
			k, ok := m.byID[id]
			if ok && !math.IsNaN(day[i]) && (use == nil || use(t, i)) && !(out[k] <= day[i]) {
				out[k] = day[i]
			}
		}
		return out
	}
	kind := textOf(m.rows[cohort.Sockets], "kind")
	first := earliest(cohort.Sockets, "delivered", func(_ *table.Table, i int) bool { return kind[i] != cohort.KindCheck })
	var others [][]float64
	for _, c := range []string{"referred", "ordered", "cast_on", "delivered", "remake_decided", "ended"} {
		others = append(others, earliest(cohort.Sockets, c, nil))
	}
	others = append(others, earliest(cohort.Visits, "date", nil), earliest(cohort.Stations, "date", nil), earliest(cohort.Forming, "date", nil))
	amputated := earliest(cohort.Limbs, "amputated", nil)
	seen := earliest(cohort.Limbs, "last_seen", nil)
	for k, p := range m.people {
		if !math.IsNaN(first[k]) {
			p.zero, p.delivered = first[k], true
			continue
		}
		for _, days := range others {
			if !math.IsNaN(days[k]) && !(p.zero <= days[k]) {
				p.zero = days[k]
			}
		}
		for _, day := range []float64{amputated[k], seen[k]} {
			if math.IsNaN(p.zero) {
				p.zero = day
			}
		}
	}
}

// The columns by which an outsider may know somebody.
const (
	ageBand   = "age_band"
	firstYear = "first_delivery_year"
)

// known makes what an outsider may know of persons and limbs, in versions
// that grow coarser. A column of which the log says nothing is left out.
func (m *maker) known() {
	persons := m.rows[cohort.Persons]
	row := map[string]int{}
	for i, id := range textOf(persons, "person") {
		row[id] = i
	}
	ofPerson := func(column string) []string {
		all, out := textOf(persons, column), make([]string, len(m.people))
		for k, p := range m.people {
			if i, ok := row[p.id]; ok {
				out[k] = all[i]
			}
		}
		return out
	}
	ages, years := make([]string, len(m.people)), make([]string, len(m.people))
	age := numOf(persons, "age")
	for k, p := range m.people {
		if i, ok := row[p.id]; ok && !math.IsNaN(age[i]) && age[i] >= 0 {
			ages[k] = strconv.Itoa(int(age[i]))
		}
		// Where dates are moved the year is not the true one.
		if p.delivered && m.src.Notebook.Front.ShiftDates == 0 {
			years[k] = table.FormatDate(p.zero)[:4]
		}
	}
	m.person(ageBand, ages, version{"in bands of 5 years, 90 and over together", bandOf(5, 90)}, version{"in bands of 10 years, 90 and over together", bandOf(10, 90)},
		version{"in bands of 20 years, 80 and over together", bandOf(20, 80)}, version{"under 20, 20 to 59, 60 and over", adults})
	m.person("sex", ofPerson("sex"), asItStands)
	m.person(firstYear, years, asItStands, version{"two years together", yearsOf(2)}, version{"four years together", yearsOf(4)})
	m.person("programme", m.clean(ofPerson("programme")), asItStands)
	m.person("site", m.sites(), asItStands)
	m.limb("level", asItStands, version{"knee and above, transtibial, foot and ankle, upper limb", levelGroup}, version{"lower or upper limb", whichLimb})
	m.limb("cause", asItStands, version{"vascular or diabetes, trauma, other cause", causeGroup})
	m.limb("side", asItStands)
	m.limb("activity", asItStands, version{"K0 to K2, K3 or K4", activityGroup})
}

// sites are all sites at which sockets of a person were made.
func (m *maker) sites() []string {
	t := m.rows[cohort.Sockets]
	at := make([]map[string]bool, len(m.people))
	site := m.clean(textOf(t, "site"))
	for i, id := range textOf(t, "person") {
		if k, ok := m.byID[id]; ok && site[i] != "" {
			if at[k] == nil {
				at[k] = map[string]bool{}
			}
			at[k][site[i]] = true
		}
	}
	out := make([]string, len(m.people))
	for k, set := range at {
		var names []string
		for s := range set {
			names = append(names, s)
		}
		sort.Strings(names)
		out[k] = strings.Join(names, " + ")
	}
	return out
}

// version is a way of making a value coarser, with words for it.
type version struct {
	what string
	of   func(string) string
}

var asItStands = version{"as in the log", func(s string) string { return s }}

func (m *maker) person(name string, values []string, versions ...version) {
	units := make([][]string, len(values))
	for i, v := range values {
		units[i] = []string{v}
	}
	m.addKnown(name, false, units, versions)
}

func (m *maker) limb(name string, versions ...version) {
	all := textOf(m.rows[cohort.Limbs], name)
	units := make([][]string, len(m.people))
	for k, p := range m.people {
		for _, i := range p.limbs {
			units[k] = append(units[k], all[i])
		}
	}
	m.addKnown(name, true, units, versions)
}

func (m *maker) addKnown(name string, perUnit bool, values [][]string, versions []version) {
	any := false
	for _, u := range values {
		for _, v := range u {
			any = any || v != ""
		}
	}
	if !any || m.leftOut(name) {
		return
	}
	c := disclose.Column{Name: name, PerUnit: perUnit, Weight: worth[name]}
	for _, v := range versions {
		c.Steps = append(c.Steps, v.what)
		all := make([][]string, len(values))
		for k, u := range values {
			for _, x := range u {
				if x == "" {
					all[k] = append(all[k], notRecorded)
				} else {
					all[k] = append(all[k], v.of(x))
				}
			}
		}
		c.Values = append(c.Values, all)
	}
	m.index[name] = len(m.cols)
	m.cols = append(m.cols, c)
}

// bandOf puts an age into a band of so many years.
func bandOf(width, top int) func(string) string {
	return func(s string) string {
		age, err := strconv.Atoi(s)
		if err != nil {
			return notRecorded
		}
		if age >= top {
			return fmt.Sprintf("%d and over", top)
		}
		from := age / width * width
		return fmt.Sprintf("%d to %d", from, from+width-1)
	}
}

func adults(s string) string {
	age, err := strconv.Atoi(s)
	switch {
	case err != nil:
		return notRecorded
	case age < 20:
		return "under 20"
	case age < 60:
		return "20 to 59"
	}
	return "60 and over"
}

func yearsOf(width int) func(string) string {
	return func(s string) string {
		y, err := strconv.Atoi(s)
		if err != nil {
			return notRecorded
		}
		from := y / width * width
		return fmt.Sprintf("%d to %d", from, from+width-1)
	}
}

var lowerLevels = map[string]string{
	"partial foot": "foot or ankle", "ankle disarticulation": "foot or ankle", "transtibial": "transtibial",
	"knee disarticulation": "knee or above", "transfemoral": "knee or above", "hip disarticulation": "knee or above", "transpelvic": "knee or above",
	"lower limb": "lower limb", "level not given": "level not given",
}

func levelGroup(s string) string {
	if g, ok := lowerLevels[s]; ok {
		return g
	}
	return "upper limb"
}

func whichLimb(s string) string {
	switch g := levelGroup(s); g {
	case "upper limb", "level not given":
		return g
	}
	return "lower limb"
}

func causeGroup(s string) string {
	switch s {
	case "vascular", "diabetes":
		return "vascular or diabetes"
	case "trauma":
		return s
	}
	return "other cause"
}

func activityGroup(s string) string {
	switch s {
	case "K0", "K1", "K2":
		return "K0 to K2"
	}
	return "K3 or K4"
}

// textOf and numOf give a column of a table, empty or NaN where it has none.
func textOf(t *table.Table, name string) []string {
	if c, ok := t.Col(name); ok && c.Kind == table.Text && !c.Own {
		return c.Text
	}
	return make([]string, t.Rows())
}

func numOf(t *table.Table, name string) []float64 {
	out := make([]float64, t.Rows())
	c, ok := t.Col(name)
	ok = ok && c.Kind != table.Text && !c.Own
	for i := range out {
		out[i] = math.NaN()
		if ok && !c.Missing[i] {
			out[i] = c.Num[i]
		}
	}
	return out
}
