package ingest

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"runtime/debug"
	"strings"
)

// Options are settings of Read. The zero value is the default: no clock, so
// that dates are compared with the log's own end.
type Options struct {
	// Today is the day after which no date can be known. Missing, the log's
	// own end takes its place: the latest date of a visit, measurement,
	// forming or delivery, unless the last few stand more than a year apart
	// from all others. Other dates may then lie up to a year later.
	Today Opt[Date]
	// Intake says how sheets that are not in the plain layout are read. Nil,
	// only sheets named after a table are.
	Intake *Intake
	// Codes gives the codes of columns that the intake has replaced by codes.
	// Read adds codes for values that have none; whoever called keeps them.
	Codes *Coder
}

// ErrNoCodes is returned where an intake has columns replaced by codes and
// nothing gives the codes.
var ErrNoCodes = errors.New("the intake has columns replaced by codes, and there is no file of codes")

// ErrNoTable is returned where the files hold none of the six tables.
var ErrNoTable = errors.New("none of the sheets is named after a table of the log (limbs, sockets, stations, visits, findings, forming)")

// reader holds the state of one call of Read.
type reader struct {
	opts        Options
	log         *Log
	sheets      []*sheetData
	recs        map[string][]*record
	identifying map[string]bool // "table.field"
	problems    []pending
	span        logSpan
	intake      *intakeReader // nil without an intake
	values      *valueStore
	stores      []*valueStore // one for each part of the rows, over all sheets
	memos       []*memo       // field of the sheet being read -> how its cells were read
	slab        []record      // records and values to give out
	places      []place
	line        rawRow                  // row of a text table while it is read
	coded       map[string]*codedValues // by kind
	codeErr     error                   // the random source failed
	unitCells   []bool                  // field of the sheet being read -> some cell names a unit
}

// record is a row on its way into the log. There are as many as rows, so what
// few records have stands elsewhere.
type record struct {
	sheet *sheetData
	raw   *rawRow
	vals  []place
	store *valueStore
	line  uint32 // row of the sheet, from 1
	aside bool
}

func (rec *record) row() int { return int(rec.line) }

// from is the row that a field's value comes from, where rows that state the
// same limb or socket were put together; nil for this row.
func (rec *record) from(f int) *record {
	if rec.sheet.lent == nil {
		return nil
	}
	return rec.sheet.lent[lentValue{rec, f}]
}

// lentValue is a value of a record that stands in another row.
type lentValue struct {
	rec   *record
	field int
}

// value is one cell read. Dates are in num as days, times as minutes.
type value struct {
	ok   bool
	num  float64
	text string
	code string
	more []Coded // further words of the same cell
	ply  *Ply
}

func (v value) date() Date { return Date(int(v.num)) }

// cell is the cell of a field. Of one that is replaced by codes it is the
// code: what the cell holds is known to parseCoded alone.
func (rec *record) cell(f int) cell {
	if rec.sheet.coded[f] != nil {
		return cell{text: rec.storedText(f)}
	}
	if src := rec.from(f); src != nil {
		return src.cell(f)
	}
	if col := rec.sheet.cols[f]; col >= 0 {
		return rec.raw.cell(col)
	}
	return cell{text: rec.sheet.fixed[f]}
}

func (rec *record) text(f int) string { return strings.TrimSpace(rec.cell(f).text) }

func (rec *record) serial(f int) (Date, bool) {
	v, _, err := readDigits(rec.text(f), false)
	if err != nil {
		return 0, false
	}
	d, _, ok := serialDate(v, rec.sheet.raw.date1904)
	return d, ok
}

// Read reads workbooks and text tables in the plain layout: a sheet or file
// for each table, named after it, headers naming the fields; and the lab's own
// sheets as the intake says, where one is given. Defects in rows
// are reported in the log and are no error. An error means that a file could
// not be read, or that no table was found; it wraps one of the Err values or
// the system's own. The same files give the same log.
func Read(ctx context.Context, paths []string, opts Options) (*Log, error) {
	r, err := load(ctx, paths, opts)
	if err != nil {
		return nil, err
	}
	return r.finish(), nil
}

// load reads the files and makes and compares their records, which still
// have their cells.
func load(ctx context.Context, paths []string, opts Options) (*reader, error) {
	if len(paths) == 0 {
		return nil, errors.New("read the log: no file was named")
	}
	r, err := newReader(opts)
	if err != nil {
		return nil, err
	}
	for _, path := range paths {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("read the log: %w", err)
		}
		file, err := readFile(ctx, path, opts.Intake.wants(path))
		if err != nil {
			return nil, err
		}
		r.addFile(file)
	}
	if err := r.readSheets(ctx, paths); err != nil {
		return nil, err
	}
	return r, nil
}

func newReader(opts Options) (*reader, error) {
	r := &reader{opts: opts, log: &Log{Own: map[string][]OwnColumn{}}, recs: map[string][]*record{}, identifying: map[string]bool{}, values: newValueStore()}
	if err := opts.Intake.answered(); err != nil {
		return nil, err
	}
	if opts.Codes == nil && opts.Intake.Coded() {
		return nil, ErrNoCodes
	}
	if opts.Intake != nil {
		r.intake = newIntakeReader(r, opts.Intake)
	}
	return r, nil
}

// readSheets makes records of the sheets and compares them with each other.
func (r *reader) readSheets(ctx context.Context, paths []string) error {
	if err := r.intake.lay(); err != nil {
		return err
	}
	if len(r.sheets) == 0 {
		return fmt.Errorf("read %s: %w", strings.Join(paths, ", "), ErrNoTable)
	}
	r.findIdentifying()
	for _, s := range r.sheets {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("read the log: %w", err)
		}
		r.decideOrders(s)
		if s.block == nil {
			r.readRows(s)
		}
	}
	if err := r.intake.read(ctx); err != nil {
		return err
	}
	r.check()
	r.buildOwn()
	r.checkCoded()
	return r.codeErr
}

// finish turns the records into the log and closes its ledger.
func (r *reader) finish() *Log {
	r.letGo()
	r.build()
	r.closeLedger()
	return r.log
}

// manyRows is from where on a log is worth a collection of its own.
const manyRows = 50000

// letGo drops the sheets' cells once nothing more is said about them, so that
// cells and finished rows need not be held at once. Of a large log they are
// collected there and then: what is made next is as large, and the collector
// by itself would wait until both stood side by side. The memory goes back to
// the system too, since the list of visits needs more of it in one piece than
// the cells leave anywhere.
func (r *reader) letGo() {
	rows := 0
	for _, s := range r.sheets {
		s.raw.rows = nil
	}
	for _, recs := range r.recs {
		for _, rec := range recs {
			rec.raw = nil
		}
		rows += len(recs)
	}
	if rows >= manyRows {
		debug.FreeOSMemory()
	}
}

func (r *reader) addFile(file rawFile) {
	r.bookNotes(file)
	for _, raw := range file.sheets {
		r.log.Sheets = append(r.log.Sheets, Sheet{File: file.path, SHA256: file.sha, Sheet: raw.name, Table: raw.table})
		if r.intake.take(len(r.log.Sheets)-1, file.path, raw) {
			continue
		}
		if raw.table == "" {
			continue
		}
		s := &sheetData{index: len(r.log.Sheets) - 1, file: file.path, table: raw.table, fields: schema[raw.table], raw: raw}
		r.layColumns(s)
		if s.header >= 0 {
			r.log.Sheets[s.index].HeaderRow = raw.rows[s.header].n
		}
		r.layNotes(s)
		r.sheets = append(r.sheets, s)
	}
}

// below are the rows under the header, blank ones among them.
func (s *sheetData) below() []rawRow {
	switch {
	case s.block != nil:
		return s.block.rows
	case s.header < 0:
		return nil
	}
	return s.raw.rows[s.header+1:]
}

// rowsBelow are the rows under the header that are not blank.
func (s *sheetData) rowsBelow() iter.Seq[*rawRow] {
	rows := s.below()
	return func(yield func(*rawRow) bool) {
		for i := range rows {
			if (s.block != nil || !blankRow(rows[i])) && !yield(&rows[i]) {
				return
			}
		}
	}
}

// fillDefaults supplies what a row may leave out. The default name of a
// visit needs the socket's own spelling and is given later.
func (r *reader) fillDefaults(rec *record) {
	switch rec.sheet.table {
	case TableLimbs:
		person, limb, side := rec.val(0), rec.val(1), rec.val(2)
		if limb.ok && side.ok && sides.Lookup(limb.text).Code == side.code {
			limb = value{} // the side again, not a name
			rec.set(1, limb)
		}
		if !limb.ok && person.ok && side.ok {
			rec.set(1, value{ok: true, text: person.text + "-" + map[string]string{"left": "L", "right": "R"}[side.code]})
		}
	case TableVisits:
		r.timeOfDate(rec)
	case TableFindings:
		region, finding := rec.val(1), rec.val(2)
		if !region.ok && rec.text(1) == "" && finding.ok && finding.code == "none" {
			rec.set(1, value{ok: true, code: "none"})
		}
		r.readRedness(rec)
	}
}

// persistsAfter is how many minutes after taking the socket off redness is
// taken to persist. Usual teaching; no published source.
const persistsAfter = 10

// readRedness tells fading from persisting redness where the word alone does
// not say but the time it takes to fade does.
func (r *reader) readRedness(rec *record) {
	f := rec.index("finding")
	v, fades := rec.val(f), rec.get("fades_min")
	n := len(r.problems) - 1
	for n >= 0 && (r.problems[n].Row != rec.row() || r.problems[n].Sheet != rec.sheet.index || r.problems[n].Code != CodeDoubtfulWord) {
		if r.problems[n].Row != rec.row() {
			return
		}
		n--
	}
	if n < 0 || !fades.ok || !strings.HasPrefix(wordKey(v.text), "red") && wordKey(v.text) != "erythema" {
		return
	}
	v.code = "redness fading"
	if fades.num > persistsAfter {
		v.code = "redness persisting"
	}
	rec.set(f, v)
	p := &r.problems[n].Problem
	p.Text = fmt.Sprintf("%q was read as %q, since it fades in %s minutes (over %d counts as persisting).", shorten(v.text), v.code, plain(fades.num), persistsAfter)
}

func (r *reader) requireValues(rec *record) {
	for f := range rec.sheet.fields {
		if field := &rec.sheet.fields[f]; field.Required && !rec.known(f) {
			r.dropRow(rec, f, CodeMissingValue, "a value for "+field.Name, fmt.Sprintf("%s is missing", field.Name))
		}
	}
}

// closeLedger counts rows and values and puts the problems in order.
func (r *reader) closeLedger() {
	for _, recs := range r.recs {
		for _, rec := range recs {
			if rec.sheet.block != nil {
				continue
			}
			sheet := &r.log.Sheets[rec.sheet.index]
			if rec.aside {
				sheet.SetAside++
			} else {
				sheet.Used++
			}
		}
	}
	r.intake.closeLedger()
	r.log.Problems = sorted(r.problems)
	for _, p := range r.log.Problems {
		if p.Done == ValueSetAside || p.Done == RecordSetAside {
			r.log.Sheets[p.Sheet].ValuesSetAside++
		}
	}
}
