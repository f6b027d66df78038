package answer

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/agreement"
	"plybook/analysis/cohort"
	"plybook/analysis/regress"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// girthAt is what is known of one station of a model, its repeats averaged.
type girthAt struct {
	mm, limb, target, model    float64 // target NaN where not recorded
	reduction, targetReduction float64 // percent of the limb
	region                     string  // in the words of the log, or a third; "" for none
}

// modelOf is the model of one socket, measured from one landmark and over one
// layer.
type modelOf struct {
	socket   string
	person   int
	group    string
	from     girthSeries
	stations []girthAt // by distance
	fitted   cohort.Fitted
}

// girthSeries is where girths may be compared: one landmark, one layer.
type girthSeries struct{ landmark, over string }

func (s girthSeries) words() string {
	over := ""
	if s.over != "" {
		over = ", over " + s.over
	}
	landmark := s.landmark
	if landmark == "" {
		landmark = "landmark not recorded"
	}
	return landmark + over
}

// reductionJob is an answer on reductions in the making.
type reductionJob struct {
	*work
	models  []*modelOf
	series  []girthSeries // those of most models first
	groups  []string
	regions []string // in order of distance, or of the alphabet where the log names them
	bands   []bandOf
	tape    *agreement.Error // nil: nothing was measured twice

	unnamed   int // girths of a model that name no socket
	ungrouped int // sockets of no known group
	elsewhere int // sockets measured from another landmark or over another layer too
	short     int // sockets of fewer than three stations, which have no thirds

	said []seriesSaid // what first fittings and first visits said, by series
}

// bandOf is what is told of one station, region or whole model.
type bandOf struct {
	group       string
	from        girthSeries
	region      string  // "all" for the whole, "" for a station
	mm          float64 // of a station, else NaN
	models      []int   // into reductionJob.models
	limb        float64 // means over the models
	model       float64
	target      float64 // of the models that have one
	targets     int
	aim, got    regress.MeanOf // reductions in percent, of target and model
	less        *agreement.Limits
	lessMean    float64 // model less target where no limits can be had
	withheld    bool
	smallerThan int // models whose difference from the limb is below the tape's
}

// thirds are the regions of a limb where the log names none.
var thirds = []string{"proximal third", "middle third", "distal third"}

// reduction answers how much smaller than the limb models are, how near to
// their targets, and what the first fitting said.
func reduction(w *work) error {
	if len(w.rows) == 0 {
		return stats.ErrNoRows
	}
	j := &reductionJob{work: w}
	if err := j.gather(); err != nil {
		return err
	}
	j.measureTape()
	if err := j.findBands(); err != nil {
		return err
	}
	if err := j.askFittings(); err != nil {
		return err
	}
	j.tables()
	j.printed()
	j.draw()
	j.reading()
	j.cautions()
	j.methods()
	return nil
}

// stationOf is one station of one socket.
type stationOf struct {
	socket string
	from   girthSeries
	mm     float64
}

// gather averages the repeats of each station and puts stations together to
// models.
func (j *reductionJob) gather() error {
	limb, target, model, mm := j.builtIn("limb_mm"), j.builtIn("target_mm"), j.builtIn("model_mm"), j.builtIn("station_mm")
	landmark, over, socket := j.builtInText("landmark"), j.builtInText("over"), j.builtInText("socket")
	var by, region *table.Column
	var err error
	if j.ask.By != "" {
		if by, err = j.column("by", j.ask.By); err != nil {
			return err
		}
	}
	if j.ask.Region != "" {
		if region, err = j.column("region", j.ask.Region); err != nil {
			return err
		}
		if region.Kind != table.Text {
			return j.at("region", j.ask.Region, notebook.CodeImpossible, "%s is %s; `region` is a column of words, such as bony and soft", j.ask.Region, map[table.Kind]string{table.Number: "a number", table.Date: "a date"}[region.Kind])
		}
	}
	person, ok := j.table.Col("person")
	if !ok {
		return fmt.Errorf("the stations have no person")
	}
	persons := codesOf(person, indices(j.table.Rows()))
	found := map[stationOf]*girthSum{}
	var order []stationOf
	first := map[string]int{}
	group := map[string]string{}
	for _, i := range j.rows {
		if !(limb[i] > 0) || !(model[i] > 0) || math.IsNaN(mm[i]) {
			continue
		}
		if socket[i] == "" {
			j.unnamed++
			continue
		}
		if _, ok := first[socket[i]]; !ok {
			first[socket[i]] = i
		}
		if by != nil && !by.Missing[i] {
			g := valueText(by, i)
			if have, ok := group[socket[i]]; ok && have != g {
				return j.at("by", j.ask.By, notebook.CodeImpossible, "%s differs between girths of one socket; groups are of sockets", j.ask.By)
			}
			group[socket[i]] = g
		}
		at := stationOf{socket[i], girthSeries{landmark[i], over[i]}, mm[i]}
		s := found[at]
		if s == nil {
			s = &girthSum{}
			found[at] = s
			order = append(order, at)
		}
		s.add(limb[i], target[i], model[i])
		if region != nil && !region.Missing[i] {
			s.region = strings.TrimSpace(region.Text[i])
		}
	}
	if len(order) == 0 {
		return &notebook.Error{Pos: j.ask.Pos, Code: "no-models", Text: "no measurement has the girth of a limb and of the model beside it, with the socket it was made for, so there is no reduction to tell" + j.unseenHint()}
	}
	slices.SortFunc(order, func(a, b stationOf) int {
		return cmp.Or(cmp.Compare(a.socket, b.socket), cmp.Compare(a.from.landmark, b.from.landmark), cmp.Compare(a.from.over, b.from.over), cmp.Compare(a.mm, b.mm))
	})
	fitted := j.ctx.Cohort.Fittings()
	for k := 0; k < len(order); {
		// All of one socket; of its series the one with most stations.
		var all []*modelOf
		id := order[k].socket
		for ; k < len(order) && order[k].socket == id; k++ {
			if len(all) == 0 || all[len(all)-1].from != order[k].from {
				all = append(all, &modelOf{socket: id, person: persons[first[id]], group: "all", from: order[k].from, fitted: fitted[id]})
			}
			m := all[len(all)-1]
			m.stations = append(m.stations, found[order[k]].station(order[k].mm))
		}
		best := all[0]
		for _, m := range all[1:] {
			if len(m.stations) > len(best.stations) {
				best = m
			}
		}
		if _, ok := fitted[id]; !ok {
			best.fitted.Comfort = math.NaN()
		}
		if len(all) > 1 {
			j.elsewhere++
		}
		if by != nil {
			g, ok := group[id]
			if !ok {
				j.ungrouped++
				continue
			}
			best.group = g
		}
		j.models = append(j.models, best)
	}
	if len(j.models) == 0 {
		return stats.ErrNoRows
	}
	used := map[stationOf]bool{}
	for _, m := range j.models {
		for _, s := range m.stations {
			used[stationOf{m.socket, m.from, s.mm}] = true
		}
	}
	for at := range used {
		j.Answer.Rows += found[at].n
	}
	if region == nil {
		j.cutThirds()
	} else {
		j.nameRegions()
	}
	return j.findGroups()
}

// girthSum adds up the repeats of one station.
type girthSum struct {
	n, targets                           int
	limb, target, model, reduction, aims float64
	region                               string
}

func (s *girthSum) add(limb, target, model float64) {
	s.n++
	s.limb += limb
	s.model += model
	s.reduction += 100 * (limb - model) / limb
	if target > 0 {
		s.targets++
		s.target += target
		s.aims += 100 * (limb - target) / limb
	}
}

func (s *girthSum) station(mm float64) girthAt {
	n, t := float64(s.n), float64(s.targets)
	g := girthAt{mm: mm, limb: s.limb / n, model: s.model / n, reduction: s.reduction / n, target: math.NaN(), targetReduction: math.NaN(), region: s.region}
	if s.targets > 0 {
		g.target, g.targetReduction = s.target/t, s.aims/t
	}
	return g
}

// cutThirds names the third of the stretch measured in which each station
// lies; a station on the line between two belongs to the middle.
func (j *reductionJob) cutThirds() {
	j.regions = thirds
	for _, m := range j.models {
		n := len(m.stations)
		if n < 3 {
			j.short++
			continue
		}
		lo, hi := m.stations[0].mm, m.stations[n-1].mm
		for k := range m.stations {
			p := (m.stations[k].mm - lo) / (hi - lo)
			switch {
			case p < 1.0/3-1e-9:
				m.stations[k].region = thirds[0]
			case p > 2.0/3+1e-9:
				m.stations[k].region = thirds[2]
			default:
				m.stations[k].region = thirds[1]
			}
		}
	}
}

// nameRegions gathers the words of the log.
func (j *reductionJob) nameRegions() {
	seen := map[string]bool{}
	for _, m := range j.models {
		for _, s := range m.stations {
			if s.region != "" && !seen[s.region] {
				seen[s.region] = true
				j.regions = append(j.regions, s.region)
			}
		}
	}
	slices.Sort(j.regions)
}

// findGroups settles groups and series, each in its order.
func (j *reductionJob) findGroups() error {
	groups, count := map[string]int{}, map[girthSeries]int{}
	for _, m := range j.models {
		groups[m.group]++
		count[m.from]++
	}
	for g := range groups {
		j.groups = append(j.groups, g)
	}
	if len(j.groups) > maxGroups {
		return j.at("by", j.ask.By, notebook.CodeImpossible, "%s has %d groups, more than the %d that can be told apart; group them first", j.ask.By, len(j.groups), maxGroups)
	}
	sortGroups(j.groups)
	for s := range count {
		j.series = append(j.series, s)
	}
	slices.SortFunc(j.series, func(a, b girthSeries) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(a.landmark, b.landmark), cmp.Compare(a.over, b.over))
	})
	return nil
}

// measureTape finds how far readings of one girth differ in this log: those of
// one limb, day, landmark, layer and station, read more than once.
func (j *reductionJob) measureTape() {
	limb, mm := j.builtIn("limb_mm"), j.builtIn("station_mm")
	id, landmark, over := j.builtInText("limb"), j.builtInText("landmark"), j.builtInText("over")
	date, ok := j.table.Col("date")
	if !ok {
		return
	}
	at := map[string]int{}
	var things [][]float64
	for i := range limb {
		if date.Missing[i] || id[i] == "" || math.IsNaN(limb[i]) || math.IsNaN(mm[i]) {
			continue
		}
		key := fmt.Sprintf("%s\x00%s\x00%s\x00%s\x00%g", id[i], valueText(date, i), landmark[i], over[i], mm[i])
		k, ok := at[key]
		if !ok {
			k = len(things)
			at[key] = k
			things = append(things, nil)
		}
		things[k] = append(things[k], limb[i])
	}
	if e, err := agreement.FitError(things, j.ask.Confidence); err == nil && e.Things >= fewestTwice {
		j.tape = e
	}
}

// fewestTwice is how many girths read twice it takes to know the tape.
const fewestTwice = 10

func (j *reductionJob) methods() {
	m := "Reduction is 100 (limb - model) / limb at each station, positive where the model is smaller; repeats of a station were averaged first, then the stations of a socket."
	if j.ask.Region == "" {
		m += " Thirds are of the stretch between a socket's first and last station."
	}
	m += fmt.Sprintf(" Means are over sockets, with %ss that allow for several sockets of one person (bias-reduced linearisation, CR2, with Satterthwaite degrees of freedom).", j.confidenceWords())
	j.References = append(j.References, "Bell RM, McCaffrey DF. Bias reduction in standard errors for linear regression with multi-stage samples. Surv Methodol 2002; 28: 169-181.")
	if slices.ContainsFunc(j.bands, func(b bandOf) bool { return b.less != nil && !b.withheld }) {
		m += fmt.Sprintf(" How near models came to their targets is told by limits of agreement, within which the difference of %s of sockets lies.", percentOf(j.ask.Confidence))
		j.References = append(j.References, "Bland JM, Altman DG. Agreement between methods of measurement with multiple observations per individual. J Biopharm Stat 2007; 17: 571-582.")
	}
	if slices.ContainsFunc(j.said, func(s seriesSaid) bool { return len(s.shares) > 0 }) {
		m += " Shares of first-time fits have exact binomial limits for the number of independent sockets that would tell as much."
		j.References = append(j.References, "Korn EL, Graubard BI. Confidence intervals for proportions with small expected number of positive counts estimated from survey data. Survey Methodology 1998; 24: 193-201.")
	}
	if slices.ContainsFunc(j.said, func(s seriesSaid) bool { return s.fit != nil || s.comfort != nil }) {
		m += " First-time fit (logistic) and comfort (linear) were regressed on the mean reduction of the socket, errors as above."
	}
	j.Methods = m + fmt.Sprintf(" The girths are those of %s.", j.n(len(j.models), "socket", "sockets"))
}

// groupWords names a group in print.
func (j *reductionJob) groupWords(g string) string {
	if j.ask.By == "" {
		return "all"
	}
	return words.Capital(j.display(g))
}
