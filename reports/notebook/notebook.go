// Package notebook reads a notebook: a Markdown file of front matter, prose,
// asks and decisions. Every fault is kept with its file, line and column and
// the nearest valid word. A fault in one ask leaves the others as they are.
package notebook

import (
	"strings"
	"time"
	"unicode/utf8"

	"plybook/analysis/table"
	"plybook/reports/document"
)

// Notebook is a notebook, read.
type Notebook struct {
	Path     string
	Front    Front
	Parts    []Part  // in the order of the file
	Warnings []Error // what the reader should know but nothing stops for
}

// Part is a part of a notebook: Prose, *Ask or *Decision.
type Part interface{ part() }

// Prose is a run of text between asks. The ID of a heading is "s-" and its
// words; a link "#ID" leads to an ask or to a heading.
type Prose struct{ Blocks []document.Block }

func (Prose) part()     {}
func (*Ask) part()      {}
func (*Decision) part() {}

// Audience is whom the report is for. It decides the wording, whether
// identifiers are shown and whether small counts are hidden.
type Audience string

// The audiences.
const (
	Quality  Audience = "quality" // the lab's own meeting; the default
	Research Audience = "research"
	Annual   Audience = "annual" // for the public
)

// Front is the front matter.
type Front struct {
	Title           string // default: the file's name without its ending
	Subtitle        string
	Author          string
	Audience        Audience
	Language        string   // BCP 47, default "en"
	Log             []string // paths or globs, relative to the notebook; may be empty
	Intake          string   // path of the intake file, relative to the notebook; empty for the plain layout
	From, To        *float64 // days since 1970-01-01
	LogSince        *float64 // days since 1970-01-01
	YearBegins      int      // month, 1 to 12, with which a year begins; 0 where not written: January
	HideBelow       int      // counts from 1 to HideBelow-1 are hidden; default 0 for quality, 11 otherwise
	HiddenBefore    []string // paths of earlier editions' numbers.json, relative to the notebook
	EarlyRemakeDays float64  // key early_remake, default 90
	// VolumeRepeatability is the smallest change of a limb's volume, in percent,
	// that this lab's measuring tells from none; 0 where not written.
	VolumeRepeatability float64
	GirthRepeatability  *GirthRepeatability // nil where not written
	SockThickness       *SockThickness      // nil where not written: the published one of socks of one material
	// InShort are the questions whose readings stand on the first page.
	InShort []Placed
	// ItemMap are the reporting guidelines for which an appendix says where each
	// item is answered: strobe, record, squire.
	ItemMap    []string
	ShiftDates int    // days by which the dates of each person are moved at most; 0: not at all
	Paper      string // "a4" (default) or "letter"
	Print      Print  // default "short" for quality, "full" otherwise
	// DecimalComma and Dates ("", "day-first", "month-first", "year-first")
	// say how a report writes numbers and dates.
	DecimalComma bool
	Dates        string
	Pos          map[string]Pos // of each key written, and of "" (the first line)
}

// Placed is a word of the front matter, and where it stands.
type Placed struct {
	Text string
	Pos  Pos
}

// Duration is a length of time as written, "90d" or "1y".
type Duration struct {
	Days float64
	Text string
}

// Cause is a word under event or competing: the name of a set of reasons,
// or one end reason.
type Cause struct {
	Name string
	Set  bool // one of Sets()
	Pos  Pos
}

// EventSpec is what counts as the event: causes, or a condition on visits or
// findings. Exactly one is filled.
type EventSpec struct {
	Causes    []Cause
	Condition *table.Condition
	Pos       Pos
	Default   bool // nothing was written
}

// Count is what a chart counts in a period: all rows, or those that meet a
// condition. Implied says that nothing was written, and so all rows are meant
// of which it is known whether they count.
type Count struct {
	All       bool
	Implied   bool
	Condition table.Condition
	Pos       Pos
}

// Profile is a row to predict for.
type Profile struct {
	Columns []string          // in the order written
	Values  map[string]string // by column, as written
	Pos     Pos
}

// Ask is one question. Where the ask leaves a key out, its field holds the
// default named here; pointers are nil and lists empty where nothing was
// written and no default is fixed.
type Ask struct {
	ID       string
	Question string
	Method   string
	Rows     string // "sockets" (the default of methods on sockets' lives), "visits", ...
	Note     string
	Keep     table.Condition // Line and Col of each clause are filled

	By        string
	Adjust    []string
	Columns   []string // summary: the columns to describe
	Factors   []string
	Reference map[string]string // category to compare with, by column
	Interact  [][2]string       // pairs of columns whose products enter too
	Strata    []string
	Varying   []string  // columns of visits and measurements that change over a life
	Repeats   string    // "": the first event alone; or total-time, gap-time, marginal
	Weights   string    // column: of how many equal rows each stands
	Offset    string    // column added to the linear predictor
	Tests     []string  // kaplan-meier: among TestNames; empty for the log-rank test
	Trend     *Trend    // order of the groups, for a test of trend
	Hazard    *Duration // bandwidth of the smoothed hazard; nil for none
	Cluster   string    // column; "" for the default (person where persons repeat), "none"

	Start, End, Entry string    // date columns
	Landmark          *Duration // only rows at risk then, clock restarted
	Event             *EventSpec
	Competing         *EventSpec
	SeenAsExact       bool

	Times      []Duration // as written, all different
	Until      *Duration
	Quantiles  []float64 // between 0 and 1
	Confidence float64   // default 0.95
	Bounds     string    // default "complementary-log-log"; or log, untransformed, logit
	Seed       int       // of what is drawn at random, default 1
	Ties       string    // default "efron"; or breslow, discrete
	Penalty    string    // "none", "firth", "ridge" or "": firth where no finite estimate exists otherwise
	// PenaltySize is how hard a ridge draws; 0: as hard as the rows ask for.
	PenaltySize float64
	Frailty     string // "gamma", "log-normal" or "": none
	SharedBy    string // column whose values share a frailty; default with Frailty "person"

	Outcome string
	// OutcomeWhen is the outcome of logistic where it is a condition: a row has
	// it where the condition holds. Outcome then is empty.
	OutcomeWhen *table.Condition
	Intervals   string   // of coefficients: default "symmetric"; or profile
	Unequal     []string // ordinal: columns whose odds ratio may differ from level to level
	Correlation string   // of the rows of a cluster beyond their columns: default "none"; or exchangeable, ar1

	Time         string
	Within       string // default "limb"
	Slopes       []string
	NestedIn     string            // what the groups of `within` lie in, such as person; "": nothing
	NestedSlopes []string          // columns whose effect differs from one of those to another
	Crossed      []string          // columns that cut across the groups and have effects of their own
	ScatterBy    string            // column whose categories scatter by different amounts; "": all alike
	TakenBy      map[string]string // who takes the next readings of Limb, by column of Crossed and ScatterBy; none: anybody
	// RandomEffects says whether the level of a limb and its slopes go
	// together: default "correlated"; or uncorrelated.
	RandomEffects string
	TestRandom    bool   // whether each part of what is random is tested
	Freedom       string // how degrees of freedom are found: default "satterthwaite"; or kenward-roger
	Estimate      string // default "reml"; or ml
	Scale         string // of time: default "days"; or months, log-weeks

	Period         string // default "month"; or quarter, year; of an xmr chart of single values, case
	Dated          string // date column that places a row; "" for the table's own
	Chart          string // one of ChartKinds; "": chosen from the data
	Numerator      *Count
	Denominator    *Count // default where there is a numerator: all rows
	Exposure       string // of a rate: "socket-months", "checked-visits", or a column that is summed; "": rows. Of counts: a column
	Between        string // of a g chart: "days", or "cases", which is what "" means
	Overdispersed  *bool  // whether limits allow for overdispersion; nil: settled with the chart
	BaselinePoints int    // 0: limits from all points
	LateEntry      *Duration
	Entered        string    // date column of when a row was written down; instead of LateEntry
	Change         *float64  // day of the change of a segmented series; nil: that of the decision that follows the ask
	Transition     *Duration // left out after it
	Seasonal       *bool     // nil: where there are years enough
	Errors         string    // of a segmented series: default "autoregressive"; or newey-west, the only ones of a linear model
	Separator      string    // between the values of a cell that names several; "": one value a cell
	PoolBelow      float64   // share below which bars are pooled; 0: none are
	Expected       float64   // chance of the event that cases are held against; 0: learnt from them
	OddsRatio      float64   // that a cumulative sum looks for, above 1; default 2
	FalseAlarm     *Duration // nil: limits by the length of the series
	Goal           *float64
	Better         string // "higher", "lower" or ""

	Profiles  []Profile
	Spline    []SplineTerm // numbers that enter as a curve
	Split     []SplitTerm  // columns whose effect is let differ between times or events
	Contrasts []Comparison
	Compare   []string // parametric methods to be held against one another, beside the one asked
	Adjusted  bool     // values of each category of By averaged over all rows
	// Diagnostics asks for residuals, influence and, in cox, accuracy.
	Diagnostics bool
	AdjustP     string // of the p values of contrasts: default "none"; or holm

	Plan         string    // of a sample size: default "log-rank"; or cox, cumulative-incidence
	Ratios       []float64 // hazard ratios to be seen, above 0 and not 1
	Power        []float64 // default 0.8 and 0.9
	Sockets      int       // 0: not given; else the number whose power is asked
	Share        float64   // of the sockets in the second group, default 0.5
	Explained    float64   // share of the column's variance that other columns explain, default 0
	WithinPerson float64   // correlation between sockets of one person, default 0
	Lost         float64   // share of sockets lost before they can tell, default 0
	Accrual      *Duration // how long sockets come in; nil: all at once

	Missing     string // what becomes of rows with missing values: default "complete" (left out); or impute
	Imputations int    // completed tables, default 20

	Ahead     *Duration // how far a watch, or a forecast, looks ahead; nil of a forecast: a year
	Course    string    // of a forecast: default "level"; or trend
	Every     *Duration // how far apart its landmarks are, default 30 days
	Resamples int       // samples of persons that it is fitted anew to, default 200
	Listed    int       // sockets printed, default 20

	Vary    []string // of maturation: what differs from limb to limb, default plateau and initial
	Initial string   // how the volume at amputation is told: default "share" of the plateau; or volume
	Left    *float64 // share of a limb's volume still to be lost at which it counts as nearly settled
	Settled *Settled // the lab's own rule of when a limb is stable; nil: none
	Limb    string   // of maturation and mixed, the limb whose next readings are foretold, after each of Times; of limb-volume and sock-volume, the one told of; "": none
	Steps   []string // of turnaround: the dates on a socket's way, in order; empty for all that the log has

	Cycle string // of rhythm: day or year, over which the pattern goes
	Waves int    // of rhythm: how many cosine waves it is made of, 1 or 2
	Sides string // of limb-volume: between stations, default "straight"; or curved
	Axes  *Axes  // elliptical sections; nil: round
	Cap   string // HalfSphere, or the column with the distance of the limb's end; "": none

	Ways      string   // of agreement: the column that says who or what measured
	Same      []string // columns that tell what was measured; empty for those of the rows
	Percent   bool     // differences in percent of the mean of the readings
	Weighting string   // of ratings: "none", "linear" or "quadratic"; "" for numbers measured
	Order     []string // of the categories of ratings

	Region string         // of a reduction: the column that names the region of each girth; "": thirds of the limb
	Ranges []FormingRange // of a forming log: what the lab took from the makers of the sheets
	Good   []string       // results of forming that count as good, default good

	Pos    Pos            // of the fence
	KeyPos map[string]Pos // of each key written
	Src    string         // the YAML as written
	Err    *Error         // the first fault; an ask with a fault is not run
	More   []*Error       // the faults after the first

	valuePos map[string]Pos
}

// At is the best place to show for a value under a key, "adjust" and "age":
// the value's own, else the key's, else the fence's.
func (a *Ask) At(key, value string) Pos {
	if p, ok := a.valuePos[key+"\x00"+value]; ok {
		return p
	}
	if p, ok := a.KeyPos[key]; ok {
		return p
	}
	return a.Pos
}

// Decision is what a meeting resolved.
type Decision struct {
	On       float64 // days since 1970-01-01
	What     string
	Who      string
	Review   *float64 // days since 1970-01-01
	Follows  string   // id of the ask that shows whether it worked, or ""
	NewPhase bool     // the chart starts a new phase at On
	Pos      Pos      // of the fence
	KeyPos   map[string]Pos
	Src      string
	Err      *Error
	More     []*Error

	followsPos Pos
}

// Asks returns the asks in order.
func (nb *Notebook) Asks() []*Ask {
	var out []*Ask
	for _, p := range nb.Parts {
		if a, ok := p.(*Ask); ok {
			out = append(out, a)
		}
	}
	return out
}

// Decisions returns the decisions in order.
func (nb *Notebook) Decisions() []*Decision {
	var out []*Decision
	for _, p := range nb.Parts {
		if d, ok := p.(*Decision); ok {
			out = append(out, d)
		}
	}
	return out
}

// Parse reads a notebook. path is used in places only; nothing is opened.
// The error is an Errors, and then there is no notebook: the front matter is
// at fault, or the file is not text. Faults of asks and decisions are kept
// with them.
func Parse(path string, src []byte) (*Notebook, error) {
	lines, err := readLines(path, src)
	if err != nil {
		return nil, Errors{err}
	}
	front, next, errs := parseFront(path, lines)
	if len(errs) > 0 {
		return nil, errs
	}
	nb := &Notebook{Path: path, Front: front}
	chunks, warnings := cut(path, lines, next)
	nb.Warnings = warnings
	prose := newProse(chunks)
	for _, c := range chunks {
		switch c.kind {
		case "ask":
			nb.Parts = append(nb.Parts, parseAsk(c))
		case "decision":
			nb.Parts = append(nb.Parts, parseDecision(c))
		default:
			if blocks := prose.read(c); len(blocks) > 0 {
				nb.Parts = append(nb.Parts, Prose{blocks})
			}
		}
	}
	checkIDs(nb.Asks())
	if errs := checkInShort(nb); len(errs) > 0 {
		return nil, errs
	}
	checkFollows(nb)
	prose.finish(nb)
	nb.Warnings = append(nb.Warnings, prose.warnings...)
	sortWarnings(nb.Warnings)
	return nb, nil
}

// readLines checks that the file is text and takes off the byte order mark
// and the line ends of other systems.
func readLines(path string, src []byte) ([]string, *Error) {
	text := strings.TrimPrefix(string(src), "\ufeff")
	text = strings.ReplaceAll(text, "\r\n", "\n")
	text = strings.ReplaceAll(text, "\r", "\n")
	lines := strings.Split(text, "\n")
	for i, l := range lines {
		col := 0
		for j, r := range l {
			col++
			_, size := utf8.DecodeRuneInString(l[j:])
			if r == utf8.RuneError && size == 1 {
				return nil, &Error{Pos: Pos{path, i + 1, col}, Code: CodeNotUTF8,
					Text: "this is not UTF-8 text: save the notebook as UTF-8"}
			}
			if r == 0 {
				return nil, &Error{Pos: Pos{path, i + 1, col}, Code: CodeNotUTF8, Text: "this is not a text file"}
			}
		}
	}
	return lines, nil
}

// days is the number of days since 1970-01-01 of an ISO date.
func days(iso string) (float64, bool) {
	t, err := time.Parse("2006-01-02", iso)
	if err != nil || t.Year() < 1900 || t.Year() > 2199 {
		return 0, false
	}
	return float64(t.Unix() / 86400), true
}
