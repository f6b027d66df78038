package example

import (
	"strconv"

	"plybook/ingest"
)

// sheet is a sheet of the lab's workbooks before it is written.
type sheet struct {
	file string // without folder
	name string
	head []string
	rows []*row
}

// row is a row of cells. Cells are nil, string, float64, ingest.Date (a true
// date) or clock (a true time of day).
type row struct {
	cells  []any
	fill   bool // the lab coloured it
	faults []fault
}

// fault is a defect planted in a cell of a row.
type fault struct {
	column int
	what   Defect
}

// clock is a minute of the day.
type clock int

func (s *sheet) col(name string) int {
	for i, h := range s.head {
		if h == name {
			return i
		}
	}
	return -1
}

// set puts a value in a cell.
func (s *sheet) set(r *row, column string, value any) { r.cells[s.col(column)] = value }

// plant puts a value in a cell and notes what is wrong with it.
func (s *sheet) plant(r *row, column string, value any, what Defect) {
	s.set(r, column, value)
	r.faults = append(r.faults, fault{s.col(column), what})
}

// copyOf is a row with the same cells and no faults of its own.
func (r *row) copyOf() *row { return &row{cells: append([]any(nil), r.cells...)} }

func (s *sheet) insert(at int, r *row) {
	s.rows = append(s.rows, nil)
	copy(s.rows[at+1:], s.rows[at:])
	s.rows[at] = r
}

// names are the columns of a table in the plain layout.
func names(table string) []string {
	var out []string
	for _, f := range ingest.Fields(table) {
		out = append(out, f.Name)
	}
	return out
}

func newSheet(file, table string, own ...string) *sheet {
	return &sheet{file: file, name: table, head: append(names(table), own...)}
}

func (s *sheet) add(cells ...any) {
	for len(cells) < len(s.head) {
		cells = append(cells, nil)
	}
	s.rows = append(s.rows, &row{cells: cells})
}

// The lab's files. Visits and their findings are kept in a workbook a year.
const (
	fileLimbs   = "limbs-and-sockets.xlsx"
	fileTapeCM  = "measurements-2023-2024.xlsx" // typed in cm
	fileTapeMM  = "measurements-2025-2026.xlsx" // typed in mm
	fileForming = "forming.xlsx"
)

func fileVisits(year int) string { return "visits-" + strconv.Itoa(year) + ".xlsx" }

// tidy lays a clean log out as the lab's sheets, every value as it should
// have been typed. Cells follow the order of the plain layout's columns.
func tidy(log *ingest.Log) []*sheet {
	limbs := newSheet(fileLimbs, ingest.TableLimbs)
	for _, l := range log.Limbs {
		limbs.add(l.Person, l.Limb, l.Side.Code, l.Level.Code, l.Cause.Code, date(l.Amputated), whole(l.Born),
			l.Sex.Code, l.Activity.Code, l.Programme, date(l.LastSeen), date(l.Died))
	}
	sockets := newSheet(fileLimbs, ingest.TableSockets, OwnFirst)
	own := log.Own[ingest.TableSockets][0]
	for i, s := range log.Sockets {
		sockets.add(s.Socket, s.Limb, s.Kind.Code, whole(s.Number), word(s.Use), date(s.Referred), date(s.Ordered),
			date(s.CastOn), text(s.CastMethod), text(s.CastBy), word(s.ShapeMethod), text(s.ShapeStyle), text(s.ShapedBy),
			text(s.Replaces), text(s.Material), num(s.LinerMM), text(s.Suspension), text(s.Site), date(s.Delivered),
			date(s.RemakeDecided), date(s.Ended), word(s.EndReason), text(own.Text[i]))
	}
	inCM, inMM := newSheet(fileTapeCM, ingest.TableStations), newSheet(fileTapeMM, ingest.TableStations)
	for _, s := range log.Stations {
		stations := inMM
		if dateOf(s.Date).Year() < 2025 {
			stations = inCM
		}
		stations.add(s.Limb, s.Date, s.Landmark, s.StationMM, s.LimbMM, word(s.Over), num(s.MinutesOff), text(s.Repeat),
			text(s.Socket), num(s.TargetMM), num(s.ModelMM), text(s.MeasuredBy))
	}
	forming := newSheet(fileForming, ingest.TableForming)
	for _, f := range log.Forming {
		forming.add(f.Socket, f.Date, text(f.SheetMaterial), num(f.SheetMM), num(f.OvenC), num(f.Minutes),
			num(f.FlippedAtMin), num(f.ThinnestMM), text(f.Result), text(f.FormedBy))
	}
	return append([]*sheet{limbs, sockets, inCM, inMM, forming}, visitSheets(log)...)
}

func visitSheets(log *ingest.Log) []*sheet {
	var out []*sheet
	var visits, found *sheet
	year := 0
	place := map[string]*sheet{} // sheet of the findings of a visit
	for _, v := range log.Visits {
		if y := dateOf(v.Date).Year(); y != year {
			year = y
			visits = newSheet(fileVisits(y), ingest.TableVisits)
			found = newSheet(fileVisits(y), ingest.TableFindings)
			out = append(out, visits, found)
		}
		place[v.Visit] = found
		var at any
		if v.Minute.OK {
			at = clock(v.Minute.Value)
		}
		visits.add(v.Visit, v.Socket, v.Date, at, word(v.Purpose), ply(v.Ply), num(v.Comfort), ply(v.PlyLeft),
			num(v.ComfortLeft), num(v.Hours), num(v.MassKG), word(v.Accepted), word(v.SkinChecked), word(v.Action),
			num(v.Minutes), text(v.SeenBy))
	}
	for _, f := range log.Findings {
		place[f.Visit].add(f.Visit, word(f.Region), word(f.Finding), whole(f.Severity), num(f.FadesMin), num(f.SizeMM))
	}
	return out
}

func date(d ingest.Opt[ingest.Date]) any {
	if !d.OK {
		return nil
	}
	return d.Value
}

func num(v ingest.Opt[float64]) any {
	if !v.OK {
		return nil
	}
	return v.Value
}

func whole(v ingest.Opt[int]) any {
	if !v.OK {
		return nil
	}
	return float64(v.Value)
}

func text(s string) any {
	if s == "" {
		return nil
	}
	return s
}

func word(c ingest.Coded) any { return text(c.Code) }

func ply(p ingest.Opt[*ingest.Ply]) any {
	if !p.OK {
		return nil
	}
	return p.Value.Total
}
