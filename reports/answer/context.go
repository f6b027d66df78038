package answer

import (
	"context"
	"errors"
	"fmt"
	"sort"
	"strconv"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/design"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// Context is what every ask of a notebook is answered from.
type Context struct {
	Cohort   *cohort.Cohort
	Front    notebook.Front
	Reasons  []string            // every end reason of the log's vocabulary
	Sets     map[string][]string // named sets of end reasons
	Today    float64             // the data cut: `to`, else the latest date in the log; never shown where dates are shifted
	Names    Names               // how limbs and persons may be called in print
	Decision []*notebook.Decision
	Kept     []string                     // own columns that are kept from this audience
	Bony     map[string]bool              // regions over bone (true) and over soft tissue (false)
	Pressure map[string]map[string]string // by region and level: tolerant or sensitive
	Withheld Withheld                     // counts that would tell small ones together with others
}

// Names says how persons and limbs are called in the outputs.
type Names struct {
	Show   bool   // whether rows of single limbs may be printed at all
	Why    string // why not, in a sentence, where Show is false
	Staff  bool   // whether columns that name staff may be used
	Public bool   // small counts are hidden: nothing about single persons
}

// method answers one kind of ask.
type method struct {
	name  string
	rows  []string // the rows it takes; the first is the default
	build func(*work) error
}

// methods is the registry: one line a method.
func methods() []method {
	return []method{
		{"kaplan-meier", []string{"sockets"}, kaplanMeier},
		{"turnbull", []string{"sockets"}, turnbull},
		{"cox", []string{"sockets", "limbs", "persons"}, cox},
		{"weibull", []string{"sockets"}, parametric},
		{"exponential", []string{"sockets"}, parametric},
		{"log-normal", []string{"sockets"}, parametric},
		{"log-logistic", []string{"sockets"}, parametric},
		{"generalised-gamma", []string{"sockets"}, parametric},
		{"cumulative-incidence", []string{"sockets"}, cumulativeIncidence},
		{"fine-gray", []string{"sockets"}, fineGray},
		{"mean-cumulative", []string{"limbs", "persons", "sockets"}, meanCumulative},
		{"linear", anyRows, linear},
		{"logistic", anyRows, logistic},
		{"poisson", anyRows, countModel},
		{"negative-binomial", anyRows, countModel},
		{"ordinal", anyRows, ordinalModel},
		{"mixed", []string{"visits", "stations", "sockets", "limbs"}, mixedModel},
		{"mixed-logistic", anyRows, withinModel},
		{"mixed-poisson", anyRows, withinModel},
		{"mixed-ordinal", anyRows, withinModel},
		{"maturation", []string{"stations", "visits"}, maturationOf},
		{"limb-volume", []string{"stations"}, limbVolume},
		{"sock-volume", []string{"visits"}, sockVolume},
		{"rhythm", []string{"visits", "stations"}, rhythmOf},
		{"pareto", anyRows, pareto},
		{"caseload", []string{"sockets"}, caseload},
		{"findings-map", []string{"findings"}, findingsMap},
		{"turnaround", []string{"sockets"}, turnaround},
		{"follow-up", []string{"sockets"}, followUp},
		{"control-chart", anyRows, controlChart},
		{"segmented", anyRows, segmented},
		{"completeness", anyRows, completeness},
		{"forecast", anyRows, foretell},
		{"funnel", anyRows, funnel},
		{"cumulative-sum", anyRows, cumulativeSum},
		{"summary", anyRows, summary},
		{"flow", anyRows, flow},
		{"agreement", []string{"stations", "visits", "sockets", "limbs", "findings", "forming"}, agreementOf},
		{"reduction", []string{"stations"}, reduction},
		{"forming-log", []string{"forming"}, formingLog},
		{"sample-size", []string{"sockets"}, sampleSize},
		{"watch", []string{"sockets"}, watchList},
	}
}

// shortSentences is how many sentences of a reading tell it in short, where a
// method does not say otherwise.
const shortSentences = 2

var anyRows = []string{"sockets", "visits", "limbs", "stations", "findings", "persons", "forming"}

// work is an answer in the making.
type work struct {
	*Answer
	run context.Context // ends what takes long
	ctx *Context
	ask *notebook.Ask

	table *table.Table // the rows-table, whole
	picked
	printed       map[int]bool // counts that may stand in words, tables or figures
	bases, events []base       // rows that the answer rests on and counts, for a public audience
	agesGrouped   bool         // ages above 89 were taken as 90
	curves        []curve
	splits        []*splitTerm // columns of `split`, with their parts
	contrasts     []contrast
	joints        []string // tests of whole terms, in words

	adjustedPrint *document.Table // nil: not asked for
	adjustedWords string
}

// picked are the rows that keep chose, with the steps that led to them.
type picked struct {
	rows  []int
	steps []cohort.Step
}

// Run answers one ask. A fault becomes the answer's Error, with its place in
// the notebook; Run itself never fails and never stops the other asks.
func Run(ctx context.Context, c *Context, ask *notebook.Ask) (out *Answer) {
	out = &Answer{ID: ask.ID, Method: ask.Method, Question: ask.Question, Note: ask.Note}
	w := &work{Answer: out, run: ctx, ctx: c, ask: ask}
	defer func() {
		if p := recover(); p != nil {
			// A fault of the program must cost one answer, not the report.
			out = failed(w, &notebook.Error{Pos: ask.Pos, Code: "internal",
				Text: fmt.Sprintf("%s stopped on a fault of the program (%v); please report it", ask.Method, p)})
		}
	}()
	if ask.Err != nil {
		return failed(w, ask.Err)
	}
	if err := ctx.Err(); err != nil {
		return failed(w, err)
	}
	err := w.answer()
	if err == nil && ask.Method != "flow" { // a flow withholds its own counts
		err = w.tooFew(w.Answer.Rows)
	}
	if err != nil {
		return failed(w, err)
	}
	w.volumeBias()
	if w.agesGrouped && w.usesAge() {
		w.Methods += agesWords
	}
	w.checkFinite()
	w.noteCounts()
	if out.Short == "" {
		out.Short = words.FirstSentences(out.Reading, shortSentences)
	}
	return out
}

func (w *work) answer() error {
	for _, m := range methods() {
		if m.name != w.ask.Method {
			continue
		}
		if err := w.selectRows(m.rows); err != nil {
			return err
		}
		return m.build(w)
	}
	return &notebook.Error{Pos: w.ask.At("method", w.ask.Method), Code: notebook.CodeUnknownMethod,
		Text: fmt.Sprintf("there is no method %q", w.ask.Method)}
}

// failed is the answer to an ask that could not be answered.
func failed(w *work, err error) *Answer {
	a := &Answer{ID: w.ask.ID, Method: w.ask.Method, Question: w.ask.Question, Note: w.ask.Note}
	e := &Error{Code: "failed", Text: err.Error(), File: w.ask.Pos.File, Line: w.ask.Pos.Line, Column: w.ask.Pos.Column}
	var at *notebook.Error
	var ce *table.ConditionError
	var te *design.TermError
	switch {
	case errors.As(err, &at):
		e.Code, e.Text = at.Code, at.Text
		e.File, e.Line, e.Column = at.File, at.Line, at.Column
	case errors.As(err, &ce):
		said := *ce
		said.Line = 0 // the place is told apart
		e.Code, e.Text = "bad-condition", said.Error()
		if ce.Line > 0 {
			e.Line, e.Column = ce.Line, ce.Col
		}
	case errors.As(err, &te):
		e.Code, e.Text = "bad-term", te.Text
		if ref := w.ask.Reference[te.Column]; ref != "" && strings.Contains(te.Text, strconv.Quote(ref)) {
			p := w.ask.At("reference", ref)
			e.File, e.Line, e.Column = p.File, p.Line, p.Column
			break
		}
		for _, key := range []string{"spline", "by", "adjust", "varying", "factors", "slopes", "reference"} {
			if p := w.ask.At(key, te.Column); p != w.ask.Pos && p != w.ask.KeyPos[key] {
				e.File, e.Line, e.Column = p.File, p.Line, p.Column
				break
			}
		}
	case errors.Is(err, stats.ErrNoRows):
		e.Code, e.Text = "no-rows", "no rows are left to analyse"+w.leftBy()+w.unseenHint()
		if w.table != nil && w.table.Rows() == 0 {
			e.Text = "the log has no " + w.table.Name + " in the period of the report"
		}
	case errors.Is(err, stats.ErrConvergence):
		e.Code, e.Text = "not-settled", "the estimates did not settle: the rows say too little about so many terms; use fewer columns, or group rare categories"
	case errors.Is(err, stats.ErrNoEvents):
		e.Code, e.Text = "no-events", "no event was seen among the rows chosen, so nothing can be estimated from when events happen"
	}
	a.Error = e
	return a
}

// leftBy says which step took the last rows.
func (w *work) leftBy() string {
	for _, s := range w.steps {
		if s.Rows == 0 && s.Excluded > 0 {
			return fmt.Sprintf(": %q left none (%s)", s.Step, s.Reason)
		}
	}
	return ""
}

// at makes an error at the place of a value under a key.
func (w *work) at(key, value, code, format string, args ...any) error {
	return &notebook.Error{Pos: w.ask.At(key, value), Code: code, Text: fmt.Sprintf(format, args...)}
}

// selectRows takes the rows-table and the rows that keep chooses.
func (w *work) selectRows(allowed []string) error {
	name := w.ask.Rows
	if name == "" {
		name = allowed[0]
	}
	ok := false
	for _, a := range allowed {
		ok = ok || a == name
	}
	if !ok {
		return w.at("rows", name, notebook.CodeImpossible, "%s answers questions about %s, not about %s",
			w.ask.Method, strings.Join(allowed, ", "), name)
	}
	t, err := w.ctx.Cohort.Rows(name)
	if err != nil {
		return w.at("rows", name, notebook.CodeBadValue, "%v", err)
	}
	w.table = t
	if err := w.needsTrueDates(); err != nil {
		return err
	}
	if err := w.groupAges(); err != nil {
		return err
	}
	w.steps = append(w.steps, w.ctx.Cohort.Flow(name)...)
	match, err := w.matches("keep", w.ask.Keep, w.table)
	if err != nil {
		return err
	}
	for i, m := range match {
		if m {
			w.rows = append(w.rows, i)
		}
	}
	if n := len(match) - len(w.rows); n > 0 || hasCondition(w.ask.Keep) {
		w.steps = append(w.steps, cohort.Step{Step: "chosen for this question", Rows: len(w.rows), Excluded: n, Reason: "not among the rows kept: " + w.conditionWords(w.ask.Keep)})
	}
	w.rests(indices(len(match)))
	w.rests(w.rows, w.keepColumns()...)
	w.safety()
	return nil
}

// caution adds a caution once.
func (w *work) caution(code, format string, args ...any) {
	c := Caution{code, fmt.Sprintf(format, args...)}
	for _, have := range w.Cautions {
		if have == c {
			return
		}
	}
	w.Cautions = append(w.Cautions, c)
}

func (w *work) warnings(ws []stats.Warning) {
	for _, x := range ws {
		w.caution(x.Code, "%s", x.Text)
	}
}

// groupWarnings are those of one group of several, each with its name.
func (w *work) groupWarnings(g group, ws []stats.Warning) {
	for _, x := range ws {
		if w.ask.By != "" {
			x.Text = w.groupName(g.name) + ": " + x.Text
		}
		w.caution(x.Code, "%s", x.Text)
	}
}

// phaseWarnings are those of a chart, each with the phase it is about.
func (w *work) phaseWarnings(ws []stats.Warning) {
	for _, x := range ws {
		if x.About != "" {
			x.Text = words.Capital(x.About) + ": " + x.Text
		}
		w.caution(x.Code, "%s", x.Text)
	}
}

// checkFinite turns any number that is not finite into a missing one. Such a
// number means "not computed", and numbers.json knows that as null.
func (w *work) checkFinite() {
	for _, t := range w.Tables {
		for _, r := range t.Rows {
			for j, v := range r {
				if x, ok := v.(float64); ok {
					r[j] = finite(x)
				}
			}
		}
	}
}

// print adds blocks to what is shown after the reading.
func (w *work) print(b ...document.Block) { w.Print = append(w.Print, b...) }

// sortedKeys gives the keys of a count in order, most frequent first.
func sortedKeys(m map[string]int) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(a, b int) bool {
		if m[keys[a]] != m[keys[b]] {
			return m[keys[a]] > m[keys[b]]
		}
		return keys[a] < keys[b]
	})
	return keys
}
