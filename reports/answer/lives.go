package answer

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// lives are the sockets' lives of an ask, with what its event is called.
type lives struct {
	*cohort.Lives
	picked *table.Table // the sockets that keep chose; Lives.Row points into it
	causes []cause      // in order of Cause 1, 2, ...
}

// cause is one kind of ending.
type cause struct {
	name     string
	reasons  []string
	past     string // "remade", "ended because ..."
	competes bool
	within   float64 // days from delivery within which it counts; 0: always
}

// named spells out causes: sets become their reasons, words are matched with
// the vocabulary of end reasons.
func (w *work) named(key string, spec *notebook.EventSpec) ([]cause, error) {
	var out []cause
	for _, c := range spec.Causes {
		if set, ok := w.ctx.Sets[c.Name]; ok {
			out = append(out, cause{name: c.Name, reasons: set, past: pastOf(c.Name)})
			continue
		}
		reason := ""
		for _, r := range w.ctx.Reasons {
			if strings.EqualFold(r, c.Name) || strings.EqualFold(strings.TrimPrefix(r, "remake: "), c.Name) {
				reason = r
			}
		}
		if reason == "" {
			words := append([]string(nil), w.ctx.Reasons...)
			for _, r := range w.ctx.Reasons {
				if short, ok := strings.CutPrefix(r, "remake: "); ok {
					words = append(words, short)
				}
			}
			for s := range w.ctx.Sets {
				words = append(words, s)
			}
			sort.Strings(words)
			near := table.Nearest(c.Name, words)
			text := fmt.Sprintf("%q under %s is neither a set of reasons nor an end reason", c.Name, key)
			if near != "" {
				text += fmt.Sprintf("; did you mean %q?", near)
			}
			return nil, &notebook.Error{Pos: c.Pos, Code: notebook.CodeBadValue, Text: text, Nearest: near}
		}
		out = append(out, cause{name: reason, reasons: []string{reason}, past: pastOf(reason)})
	}
	return out, nil
}

// pastOf says an ending as what happened to a socket.
func pastOf(name string) string {
	switch name {
	case "remake":
		return "remade"
	case "early-remake":
		return "remade early"
	case "making":
		return "remade for an error in the making"
	case "limb-change":
		return "remade because the limb changed"
	case "untraced":
		return "lost from sight"
	}
	if r, ok := strings.CutPrefix(name, "remake: "); ok {
		return "remade for " + r
	}
	if p, ok := pasts[name]; ok {
		return p
	}
	return "ended by " + name
}

// pasts are the endings other than remakes, as what became of a socket.
var pasts = map[string]string{
	"died": "ended by the person's death", "unknown": "ended for a reason not known", "planned step": "replaced as planned",
	"component or activity change": "ended by a change of component or activity", "preference": "ended by the person's preference",
	"lost or stolen": "lost or stolen", "lost to follow-up": "lost to follow-up", "moved away": "ended by the person's moving away",
	"stopped wearing": "no longer worn", "other": "ended for another reason",
}

// causeWords is a cause as a noun: what a share or a hazard is of.
func causeWords(name string) string {
	switch name {
	case "remake":
		return "a remake"
	case "early-remake":
		return "an early remake"
	case "making":
		return "a remake for an error in the making"
	case "limb-change":
		return "a remake for a change of the limb"
	case "untraced":
		return "loss from sight"
	case "died":
		return "death"
	case "unknown":
		return "an ending of unknown reason"
	case "other":
		return "an ending for another reason"
	}
	if r, ok := strings.CutPrefix(name, "remake: "); ok {
		return "a remake for " + r
	}
	return name
}

// buildLives makes the lives of an ask. One cause where split is false (every
// named cause is the same event), else a cause each.
func (w *work) buildLives(split bool) (*lives, error) {
	if w.ask.Event == nil {
		return nil, w.at("event", "", notebook.CodeMissingKey, "%s needs an event", w.ask.Method)
	}
	for _, k := range [][2]string{{"start", w.ask.Start}, {"end", w.ask.End}, {"entry", w.ask.Entry}} {
		if k[1] == "" {
			continue
		}
		c, err := w.column(k[0], k[1])
		if err != nil {
			return nil, err
		}
		if c.Kind != table.Date && (k[0] != "entry" || c.Kind == table.Text) {
			return nil, w.at(k[0], k[1], notebook.CodeImpossible, "%s holds no dates", k[1])
		}
	}
	l := &lives{picked: w.table.Pick(w.rows)}
	spec := cohort.LifeSpec{Start: w.ask.Start, End: w.ask.End, Entry: w.ask.Entry}
	cond := w.ask.Event.Condition
	var err error
	if cond != nil {
		if split {
			return nil, &notebook.Error{Pos: w.ask.Event.Pos, Code: notebook.CodeImpossible,
				Text: w.ask.Method + " takes end reasons as events, not a condition on visits"}
		}
		name := w.conditionWords(*cond)
		l.causes = []cause{{name: name, past: "found with " + name}}
		spec.Events = []cohort.Cause{{Name: name}}
	} else {
		if l.causes, err = w.eventCauses(split); err != nil {
			return nil, err
		}
		for _, c := range l.causes {
			cc := cohort.Cause{Name: c.name, Codes: c.reasons, Within: c.within}
			if c.competes {
				spec.Competing = append(spec.Competing, cc)
			} else {
				spec.Events = append(spec.Events, cc)
			}
		}
	}
	var got *cohort.Lives
	if cond != nil {
		got, err = w.livesUntilSeen(l.picked, *cond, spec)
	} else {
		got, err = w.ctx.Cohort.Lives(l.picked, spec)
	}
	if err != nil {
		return nil, err
	}
	if w.ask.Landmark != nil {
		if got, err = got.Landmark(w.ask.Landmark.Days); err != nil {
			return nil, w.at("landmark", "", notebook.CodeBadValue, "%v", err)
		}
	}
	l.Lives = got
	w.steps = append(w.steps, got.Flow...)
	w.Answer.Rows = got.Len()
	w.HasEvents = true
	w.countEvents(l, indices(got.Len()))
	w.lifeCautions(l)
	return l, nil
}

// countEvents counts the events asked for among some lives.
func (w *work) countEvents(l *lives, index []int) {
	w.Events = 0
	for _, j := range index {
		if c := l.Cause[j]; c > 0 && !l.causes[c-1].competes {
			w.Events++
		}
	}
}

// eventCauses spells out the causes of an event by end reasons.
func (w *work) eventCauses(split bool) ([]cause, error) {
	named, err := w.named("event", w.ask.Event)
	if err != nil {
		return nil, err
	}
	for k := range named {
		if named[k].name == "early-remake" {
			named[k].within = w.ctx.Front.EarlyRemakeDays
			if len(named) > 1 {
				return nil, &notebook.Error{Pos: w.ask.Event.Pos, Code: notebook.CodeImpossible,
					Text: "early-remake cannot be mixed with other events in one question; ask for it alone"}
			}
		}
	}
	if !split {
		return []cause{mergeCauses(named)}, nil
	}
	if w.ask.Method == "fine-gray" {
		// One model is of one event, whatever reasons make it up.
		named = []cause{mergeCauses(named)}
	}
	competing, err := w.competing(named)
	if err != nil {
		return nil, err
	}
	return append(named, competing...), nil
}

// livesUntilSeen are lives that end at the first visit that meets the
// condition, and are followed to the last visit that could tell.
func (w *work) livesUntilSeen(picked *table.Table, cond table.Condition, spec cohort.LifeSpec) (*cohort.Lives, error) {
	if w.ask.End != "" {
		return nil, w.at("end", w.ask.End, notebook.CodeImpossible, "the event is seen at a visit, so the visit ends the life and no other end can be given")
	}
	if err := w.mayBeSeen(cond); err != nil {
		return nil, err
	}
	spec.Events = nil
	all, err := w.ctx.Cohort.SeenLives(picked, cond, spec)
	if err != nil {
		return nil, err
	}
	got := all.Watched()
	if n := got.ZeroDays; n > 0 {
		w.caution("zero-days", "%s found so on the very day that the clock starts.", words.Capital(w.n(n, "socket was", "sockets were")))
		got.ZeroDays = 0 // else it would be said of them that they ended
	}
	if gone := all.Len() - got.Len(); gone > 0 {
		w.caution("not-looked-at", "%s left out, since no visit could tell: nothing was recorded after delivery, or it was there when a socket that came under observation late was first looked at.",
			words.Capital(w.n(gone, "socket was", "sockets were")))
	}
	return &got.Lives, nil
}

func mergeCauses(in []cause) cause {
	if len(in) == 1 {
		return in[0]
	}
	var out cause
	seen := map[string]bool{}
	var names, pasts []string
	for _, c := range in {
		names, pasts = append(names, c.name), append(pasts, c.past)
		for _, r := range c.reasons {
			if !seen[r] {
				seen[r] = true
				out.reasons = append(out.reasons, r)
			}
		}
	}
	out.name, out.past = strings.Join(names, " or "), strings.Join(pasts, " or ")
	return out
}

// competing gives the competing causes: those asked for, else every recorded
// ending that is neither the event nor one that is merely lost from sight.
func (w *work) competing(events []cause) ([]cause, error) {
	taken := map[string]string{}
	for _, c := range events {
		for _, r := range c.reasons {
			if other, ok := taken[r]; ok && other != c.name {
				return nil, &notebook.Error{Pos: w.ask.Event.Pos, Code: notebook.CodeImpossible,
					Text: fmt.Sprintf("%q belongs to both %s and %s; every ending must be one cause", r, other, c.name)}
			}
			taken[r] = c.name
		}
	}
	if w.ask.Competing != nil && !w.ask.Competing.Default {
		if w.ask.Competing.Condition != nil {
			return nil, &notebook.Error{Pos: w.ask.Competing.Pos, Code: notebook.CodeImpossible, Text: "competing takes end reasons, not a condition"}
		}
		named, err := w.named("competing", w.ask.Competing)
		if err != nil {
			return nil, err
		}
		for k, c := range named {
			for _, r := range c.reasons {
				if other, ok := taken[r]; ok {
					return nil, &notebook.Error{Pos: w.ask.Competing.Pos, Code: notebook.CodeImpossible,
						Text: fmt.Sprintf("%q is in both event (%s) and competing (%s)", r, other, c.name)}
				}
			}
			named[k].competes = true
		}
		return named, nil
	}
	var later []cause
	for _, c := range events {
		if c.within > 0 {
			// What happens after the limit is not the event, but it precludes
			// what else could have ended the socket.
			later = append(later, cause{name: "later remake", reasons: c.reasons, past: "remade later", competes: true})
		}
	}
	for _, r := range w.ctx.Sets["untraced"] {
		taken[r] = "untraced"
	}
	rest := cause{name: "other endings", past: "ended otherwise", competes: true}
	died := cause{name: "died", reasons: []string{"died"}, past: pastOf("died"), competes: true}
	for _, r := range w.ctx.Reasons {
		if taken[r] == "" && r != "died" {
			rest.reasons = append(rest.reasons, r)
		}
	}
	out := later
	if taken["died"] == "" {
		out = append(out, died)
	}
	if len(rest.reasons) > 0 {
		out = append(out, rest)
	}
	return out, nil
}

// mayBeSeen checks a condition on visits or findings that is the event.
func (w *work) mayBeSeen(c table.Condition) error {
	if !w.ask.SeenAsExact && w.ask.Method != "flow" { // a flow counts, and dates nothing
		return &notebook.Error{Pos: w.ask.Event.Pos, Code: "interval-censored",
			Text: fmt.Sprintf("what is seen at a visit happened some time since the visit before, so %s cannot date it; write seen_as_exact: true to date it on the visit", w.ask.Method)}
	}
	t, err := w.ctx.Cohort.Rows("visits")
	if err != nil {
		return err
	}
	for _, cl := range allClauses(c) {
		if !t.Has(cl.Column) && !t.Has(table.OwnPrefix+cl.Column) {
			if t, err = w.ctx.Cohort.Rows("findings"); err != nil {
				return err
			}
			break
		}
	}
	hit, err := w.matches("event", c, t)
	if err != nil {
		return err
	}
	if f, ok := t.Col("finding"); ok {
		for i, h := range hit {
			if h && brokenSkin[f.Text[i]] {
				w.caution("skin", skinText)
				break
			}
		}
	}
	if w.ask.Method != "flow" {
		w.caution("seen-as-exact", "The event is seen only at visits but dated on the visit at which it was first seen. It happened earlier, by up to the gap between visits, so the times here are too long.")
	}
	return nil
}

func allClauses(c table.Condition) []table.Clause {
	out := append([]table.Clause(nil), c.Clauses...)
	for _, a := range c.Any {
		out = append(out, allClauses(a)...)
	}
	return out
}

// lifeCautions raises what the lives themselves leave in doubt.
func (w *work) lifeCautions(l *lives) {
	n := l.Len()
	if n == 0 {
		return
	}
	if l.ZeroDays > 0 {
		kept := "kept at 0 days"
		if w.takesIntervals() {
			kept = "taken as half a day, since these curves know no time of 0"
		}
		w.caution("zero-days", "%s ended on the day of delivery and %s %s.", words.Capital(w.n(l.ZeroDays, "socket", "sockets")), plural(l.ZeroDays, "is", "are"), kept)
	}
	open, unseen := l.openUnseen()
	if open > 0 && float64(unseen) > 0.1*float64(open) {
		w.caution("not-seen", "%s still open had no visit or other record in the last 12 months. They are followed only to their last record.", words.Capital(w.unseenShare(unseen, open)))
	}
	if persons := distinct(l.Person); persons < n && persons < 40 && w.ask.Cluster != "none" {
		w.caution("few-clusters", "%s stand behind these %s. Errors that allow for several sockets of one person are too small when there are fewer than 40 persons.",
			w.only(persons, "person", "persons"), w.n(n, "socket", "sockets"))
	}
}

// datedWords says, for the methods sentence, from which records the day of
// the end comes, where they differ.
func (w *work) datedWords(l *lives) string {
	if len(l.Dated) < 2 || w.ask.Event.Condition != nil {
		return ""
	}
	var kinds []string
	var counts []int
	for _, d := range l.Dated {
		kinds, counts = append(kinds, d.Kind), append(counts, d.Count)
	}
	return fmt.Sprintf(" The day of the end comes from different records (%s); the day a remake was decided comes before the day the old socket is given up.", w.parts(kinds, counts))
}

// unseenShare says how many of the open sockets were not seen. A public
// audience reads the share alone: how many are open would tell, with the
// other endings, what is withheld of them.
func (w *work) unseenShare(unseen, open int) string {
	switch {
	case !w.public():
		return fmt.Sprintf("%s (%s)", w.of(unseen, open, "socket", "sockets"), words.Percent(float64(unseen)/float64(open), open))
	case w.share(unseen, open) == "hidden":
		return "some of the sockets"
	}
	return w.share(unseen, open) + " of the sockets"
}

// unseenNote says of each group how many of the sockets still open have not
// been heard of in the last 12 months: a group seen less often looks better.
func (w *work) unseenNote(l *lives, gs []group) string {
	allOpen, allUnseen := l.openUnseen()
	var parts []string
	for _, g := range gs {
		open, unseen := 0, 0
		for _, j := range g.index {
			if l.EndReason[j] == "" && l.Cause[j] == 0 {
				open++
				if l.Unseen[j] {
					unseen++
				}
			}
		}
		part := "none open"
		switch {
		case open == 0:
		case w.hiddenCount(unseen) || w.hiddenCount(open-unseen) || w.hiddenCount(open):
			part = "hidden"
		default:
			part = words.Percent(float64(unseen)/float64(open), open)
			if !w.public() {
				part = fmt.Sprintf("%s of %s (%s)", words.Fixed(float64(unseen), 0), words.Fixed(float64(open), 0), part)
			}
			if 10*unseen > open && len(gs) > 1 && 10*allUnseen <= allOpen { // else it has been said of all
				w.caution("not-seen", "In the group %s, %s still open had no visit or other record in the last 12 months. A group seen less often looks better than it is.",
					w.display(g.name), w.unseenShare(unseen, open))
			}
		}
		if len(gs) > 1 {
			part = w.display(g.name) + ", " + part
		}
		parts = append(parts, part)
	}
	return "Still in use but without a record in the last 12 months: " + strings.Join(parts, "; ") + "."
}

// openUnseen counts the lives not ended when last heard of, and those of them
// not heard of in the last 12 months.
func (l *lives) openUnseen() (open, unseen int) {
	for _, u := range l.Unseen {
		if u {
			unseen++
		}
	}
	for j, r := range l.EndReason {
		if r == "" && l.Cause[j] == 0 {
			open++
		}
	}
	return open, unseen
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

func distinct(xs []int) int {
	seen := map[int]bool{}
	for _, x := range xs {
		seen[x] = true
	}
	return len(seen)
}

// clusters gives the cluster of each life: person where persons repeat, the
// column asked for, or none.
func (w *work) clusters(l *lives) ([]int, string, error) {
	switch w.ask.Cluster {
	case "none":
		if distinct(l.Person) < len(l.Person) {
			w.caution("not-clustered", "Some persons have several sockets here, and the sockets are taken as independent because the question says so. The intervals may be too narrow.")
		}
		return nil, "", nil
	case "":
		if distinct(l.Person) == len(l.Person) {
			return nil, "", nil
		}
		return l.Person, "person", nil
	}
	c, err := w.column("cluster", w.ask.Cluster)
	if err != nil {
		return nil, "", err
	}
	return codesOf(c.Pick(l.logRows(w)), indices(l.Len())), w.ask.Cluster, nil
}

// codesOf numbers the values of a column; each missing value is its own.
func codesOf(c *table.Column, rows []int) []int {
	seen := map[string]int{}
	out := make([]int, len(rows))
	for j, i := range rows {
		key := "\x00" + strconv.Itoa(j)
		if !c.Missing[i] {
			key = valueText(c, i)
		}
		k, ok := seen[key]
		if !ok {
			k = len(seen)
			seen[key] = k
		}
		out[j] = k
	}
	return out
}

// valueText is a value of a column as text, for groups.
func valueText(c *table.Column, i int) string {
	switch c.Kind {
	case table.Text:
		return c.Text[i]
	case table.Date:
		return words.ISODate(c.Num[i])
	}
	return strconv.FormatFloat(c.Num[i], 'g', -1, 64)
}

// maxGroups is the number of groups beyond which curves cannot be told apart.
const maxGroups = 12

// group is one group of lives.
type group struct {
	name  string
	index []int // into the lives
	data  survival.Data
}

// groups splits the lives by the column of `by`; one group named all without.
func (w *work) groups(l *lives, cluster []int) ([]group, error) {
	if w.ask.By == "" {
		g := group{name: "all"}
		for j := range l.Time {
			g.index = append(g.index, j)
		}
		g.data = l.data(g.index, cluster)
		return []group{g}, nil
	}
	c, err := w.lifeColumn(l, "by", w.ask.By)
	if err != nil {
		return nil, err
	}
	byName := map[string]*group{}
	missing := 0
	for j := range l.Row {
		if c.Missing[j] {
			missing++
			continue
		}
		name := valueText(c, j)
		if byName[name] == nil {
			byName[name] = &group{name: name}
		}
		byName[name].index = append(byName[name].index, j)
	}
	if missing > 0 {
		w.caution("missing", "%s left out because %s is not recorded.", words.Capital(w.n(missing, "socket was", "sockets were")), label(c))
		w.steps = append(w.steps, cohort.Step{Step: "in a group", Rows: len(l.Time) - missing, Excluded: missing, Reason: label(c) + " not recorded"})
		w.Answer.Rows -= missing
	}
	if len(byName) > maxGroups {
		return nil, w.at("by", w.ask.By, notebook.CodeImpossible, "%s has %d groups, more than the %d that can be told apart; group them first", w.ask.By, len(byName), maxGroups)
	}
	names := make([]string, 0, len(byName))
	for k := range byName {
		names = append(names, k)
	}
	sortGroups(names)
	out := make([]group, 0, len(names))
	var all []int
	for _, k := range names {
		g := *byName[k]
		g.data = l.data(g.index, cluster)
		all = append(all, g.index...)
		if len(g.index) < 5 && !w.public() { // for the public it is left out altogether
			w.caution("small-group", "The group %s has only %s.", w.display(k), w.n(len(g.index), "socket", "sockets"))
		}
		out = append(out, g)
	}
	w.countEvents(l, all)
	return out, nil
}

// sortGroups sorts as numbers where all names are numbers, else as text.
func sortGroups(names []string) {
	at := make(map[string]float64, len(names))
	for _, n := range names {
		x, err := strconv.ParseFloat(n, 64)
		if err != nil || math.IsNaN(x) {
			sort.Strings(names)
			return
		}
		at[n] = x
	}
	sort.Slice(names, func(a, b int) bool {
		if at[names[a]] != at[names[b]] {
			return at[names[a]] < at[names[b]]
		}
		return names[a] < names[b]
	})
}

// data is the survival data of some lives.
func (l *lives) data(index []int, cluster []int) survival.Data {
	var d survival.Data
	for _, j := range index {
		d.Entry = append(d.Entry, l.Entry[j])
		d.Time = append(d.Time, l.Time[j])
		d.Cause = append(d.Cause, l.Cause[j])
		if cluster != nil {
			d.Cluster = append(d.Cluster, cluster[j])
		}
	}
	return d
}

// logRows are the rows of the rows-table that the lives came from.
func (l *lives) logRows(w *work) []int {
	out := make([]int, l.Len())
	for j, i := range l.Row {
		out[j] = w.rows[i]
	}
	return out
}

// lifeColumn is a column that explains lives, one value a life. A column
// known only after the start is refused unless a landmark starts the clock
// later.
func (w *work) lifeColumn(l *lives, key, name string) (*table.Column, error) {
	if staffColumns[name] && !w.ctx.Names.Staff {
		return nil, w.at(key, name, "staff-hidden", "%s", w.staffHidden(name))
	}
	if identifiers[name] && !w.ctx.Names.Show {
		return nil, w.at(key, name, "identifying", "%s", w.identifying(name))
	}
	c, err := l.Column(l.picked, name)
	var late *cohort.LaterError
	switch {
	case errors.As(err, &late) && late.Never:
		return nil, w.at(key, name, "known-later", "%s follows from the end of the socket and cannot explain it", name)
	case errors.As(err, &late):
		return nil, w.at(key, name, "known-later", "%s is known only after delivery and cannot explain what follows from then; write landmark: 90d (or another time) to start the clock later", name)
	case err != nil:
		if _, err := w.column(key, name); err != nil {
			return nil, err
		}
		return nil, err
	}
	out := *c
	out.Name = name
	return &out, nil
}

// lifeTable is a table with one row a life and the columns named.
func (w *work) lifeTable(l *lives, keyOf map[string]string) (*table.Table, error) {
	t := table.New("sockets", l.Len())
	names := make([]string, 0, len(keyOf))
	for n := range keyOf {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		c, err := w.lifeColumn(l, keyOf[n], n)
		if err != nil {
			return nil, err
		}
		if err := t.Add(c); err != nil {
			return nil, err
		}
	}
	return t, nil
}
