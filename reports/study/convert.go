package study

import (
	"slices"
	"strconv"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/table"
	"plybook/ingest"
)

// filler adds the columns of one log table, row by row.
type filler struct {
	t   *table.Table
	n   int
	err error
}

func newFiller(name string, n int) *filler { return &filler{t: table.New(name, n), n: n} }

func (f *filler) add(c *table.Column) {
	if err := f.t.Add(c); err != nil && f.err == nil {
		f.err = err
	}
}

func (f *filler) text(name, label string, get func(i int) string) {
	c := table.NewText(name, f.n)
	c.Label = label
	for i := range f.n {
		c.SetText(i, get(i))
	}
	f.add(c)
}

func (f *filler) num(name, label, unit string, get func(i int) ingest.Opt[float64]) {
	c := table.NewNumber(name, unit, f.n)
	c.Label = label
	for i := range f.n {
		if v := get(i); v.OK {
			c.SetNum(i, v.Value)
		}
	}
	f.add(c)
}

func (f *filler) date(name, label string, get func(i int) ingest.Opt[ingest.Date]) {
	c := table.NewDate(name, f.n)
	c.Label = label
	for i := range f.n {
		if v := get(i); v.OK {
			c.SetNum(i, float64(v.Value))
		}
	}
	f.add(c)
}

// later marks columns known only some time after delivery.
func (f *filler) later(names ...string) {
	for _, n := range names {
		if c, ok := f.t.Col(n); ok {
			c.Known = table.Later
		}
	}
}

// always marks columns that are fixed facts of the person or limb.
func (f *filler) always(names ...string) {
	for _, n := range names {
		if c, ok := f.t.Col(n); ok {
			c.Known = table.Always
		}
	}
}

func (f *filler) places(get func(i int) ingest.Place) {
	for i := range f.n {
		p := get(i)
		f.t.Origin[i] = table.Origin{Sheet: p.Sheet, Row: p.Row}
	}
}

// own adds the lab's own columns under own.NAME. Columns flagged as
// identifying are left out: they must reach no output.
func (f *filler) own(cols []ingest.OwnColumn) {
	for _, o := range cols {
		if o.Identifying {
			continue
		}
		name := "own." + o.Name
		var c *table.Column
		switch o.Kind {
		case ingest.OwnNumber:
			c = table.NewNumber(name, "", f.n)
		case ingest.OwnDate:
			c = table.NewDate(name, f.n)
		default:
			c = table.NewText(name, f.n)
		}
		c.Label, c.Own = o.Name, true
		for i := range f.n {
			if i >= len(o.OK) || !o.OK[i] {
				continue
			}
			if o.Kind == ingest.OwnText {
				c.SetText(i, o.Text[i])
			} else {
				c.SetNum(i, o.Num[i])
			}
		}
		f.add(c)
	}
}

func intOpt(o ingest.Opt[int]) ingest.Opt[float64] {
	return ingest.Opt[float64]{Value: float64(o.Value), OK: o.OK}
}

// Tables turns a log into the column tables that cohorts are built from.
// This is the one place where the log's records meet the analysis.
func Tables(log *ingest.Log) (cohort.Tables, error) {
	var out cohort.Tables
	fs := []*filler{
		limbs(log), sockets(log), stations(log), visits(log), findings(log), forming(log),
	}
	for _, f := range fs {
		f.own(log.Own[f.t.Name])
		if f.err != nil {
			return out, f.err
		}
	}
	out.Limbs, out.Sockets, out.Stations = fs[0].t, fs[1].t, fs[2].t
	out.Visits, out.Findings, out.Forming = fs[3].t, fs[4].t, fs[5].t
	return out, nil
}

func limbs(log *ingest.Log) *filler {
	r := log.Limbs
	f := newFiller(ingest.TableLimbs, len(r))
	f.places(func(i int) ingest.Place { return r[i].Place })
	f.text("person", "person", func(i int) string { return r[i].Person })
	f.text("limb", "limb", func(i int) string { return r[i].Limb })
	f.text("side", "side", func(i int) string { return r[i].Side.Code })
	f.text("level", "level of amputation", func(i int) string { return r[i].Level.Code })
	f.text("cause", "cause of amputation", func(i int) string { return r[i].Cause.Code })
	f.date("amputated", "date of amputation", func(i int) ingest.Opt[ingest.Date] { return r[i].Amputated })
	f.num("born", "year of birth", "", func(i int) ingest.Opt[float64] { return intOpt(r[i].Born) })
	f.text("sex", "sex", func(i int) string { return r[i].Sex.Code })
	f.text("activity", "activity level", func(i int) string { return r[i].Activity.Code })
	f.text("programme", "programme", func(i int) string { return r[i].Programme })
	f.date("last_seen", "last seen", func(i int) ingest.Opt[ingest.Date] { return r[i].LastSeen })
	f.date("died", "died", func(i int) ingest.Opt[ingest.Date] { return r[i].Died })
	f.always("person", "limb", "side", "level", "cause", "amputated", "born", "sex")
	f.later("last_seen", "died")
	return f
}

func sockets(log *ingest.Log) *filler {
	r := log.Sockets
	f := newFiller(ingest.TableSockets, len(r))
	f.places(func(i int) ingest.Place { return r[i].Place })
	f.text("socket", "socket", func(i int) string { return r[i].Socket })
	f.text("limb", "limb", func(i int) string { return r[i].Limb })
	f.text("kind", "kind of socket", func(i int) string { return r[i].Kind.Code })
	f.num("number", "number of the socket on that limb", "", func(i int) ingest.Opt[float64] { return intOpt(r[i].Number) })
	f.text("use", "use", func(i int) string { return r[i].Use.Code })
	f.date("referred", "referred", func(i int) ingest.Opt[ingest.Date] { return r[i].Referred })
	f.date("ordered", "ordered", func(i int) ingest.Opt[ingest.Date] { return r[i].Ordered })
	f.date("cast_on", "cast on", func(i int) ingest.Opt[ingest.Date] { return r[i].CastOn })
	f.text("cast_method", "casting method", func(i int) string { return r[i].CastMethod })
	f.text("cast_by", "cast by", func(i int) string { return r[i].CastBy })
	f.text("shape_method", "shaping method", func(i int) string { return r[i].ShapeMethod.Code })
	f.text("shape_style", "shaping style", func(i int) string { return r[i].ShapeStyle })
	f.text("shaped_by", "shaped by", func(i int) string { return r[i].ShapedBy })
	f.text("replaces", "replaces", func(i int) string { return r[i].Replaces })
	f.text("material", "socket material", func(i int) string { return r[i].Material })
	f.num("liner_mm", "liner thickness", "mm", func(i int) ingest.Opt[float64] { return r[i].LinerMM })
	f.text("suspension", "suspension", func(i int) string { return r[i].Suspension })
	f.text("site", "site", func(i int) string { return r[i].Site })
	f.date("delivered", "delivered", func(i int) ingest.Opt[ingest.Date] { return r[i].Delivered })
	f.date("remake_decided", "remake decided", func(i int) ingest.Opt[ingest.Date] { return r[i].RemakeDecided })
	f.date("ended", "ended", func(i int) ingest.Opt[ingest.Date] { return r[i].Ended })
	f.text("end_reason", "reason for the end", func(i int) string { return r[i].EndReason.Code })
	f.text("end_reasons", "reasons for the end", func(i int) string {
		if len(r[i].EndReasons) == 0 {
			return r[i].EndReason.Code
		}
		return allCodes(r[i].EndReasons)
	})
	f.later("remake_decided", "ended", "end_reason", "end_reasons")
	return f
}

func stations(log *ingest.Log) *filler {
	r := log.Stations
	f := newFiller(ingest.TableStations, len(r))
	f.places(func(i int) ingest.Place { return r[i].Place })
	f.text("limb", "limb", func(i int) string { return r[i].Limb })
	f.date("date", "date measured", func(i int) ingest.Opt[ingest.Date] { return ingest.Some(r[i].Date) })
	f.text("landmark", "landmark", func(i int) string { return r[i].Landmark })
	f.num("station_mm", "distance from the landmark", "mm", func(i int) ingest.Opt[float64] { return ingest.Some(r[i].StationMM) })
	f.num("limb_mm", "circumference", "mm", func(i int) ingest.Opt[float64] { return ingest.Some(r[i].LimbMM) })
	f.text("over", "measured over", func(i int) string { return r[i].Over.Code })
	f.num("minutes_off", "minutes since the socket came off", "min", func(i int) ingest.Opt[float64] { return r[i].MinutesOff })
	f.text("repeat", "repeat", func(i int) string { return r[i].Repeat })
	f.text("socket", "socket", func(i int) string { return r[i].Socket })
	f.num("target_mm", "target circumference", "mm", func(i int) ingest.Opt[float64] { return r[i].TargetMM })
	f.num("model_mm", "circumference of the model", "mm", func(i int) ingest.Opt[float64] { return r[i].ModelMM })
	f.text("measured_by", "measured by", func(i int) string { return r[i].MeasuredBy })
	return f
}

func plyTotal(p ingest.Opt[*ingest.Ply]) ingest.Opt[float64] {
	if !p.OK {
		return ingest.Opt[float64]{}
	}
	return ingest.Some(p.Value.Total)
}

// sockList is the list of socks as the cohort reads it; "" where only a total
// is known.
func sockList(p ingest.Opt[*ingest.Ply]) string {
	if !p.OK || len(p.Value.Socks) == 0 && p.Value.Total != 0 {
		return ""
	}
	var parts []string
	if p.Value.Sheath {
		parts = append(parts, cohort.WordSheath)
	}
	for _, ply := range p.Value.Socks {
		parts = append(parts, strconv.FormatFloat(ply, 'f', -1, 64))
	}
	if p.Value.HalfSock {
		parts = append(parts, cohort.WordHalfSock)
	}
	if len(parts) == 0 {
		return "0"
	}
	return strings.Join(parts, cohort.SockJoin)
}

func visits(log *ingest.Log) *filler {
	r := log.Visits
	f := newFiller(ingest.TableVisits, len(r))
	f.places(func(i int) ingest.Place { return r[i].Place })
	f.text("visit", "visit", func(i int) string { return r[i].Visit })
	f.text("socket", "socket", func(i int) string { return r[i].Socket })
	f.date("date", "date of visit", func(i int) ingest.Opt[ingest.Date] { return ingest.Some(r[i].Date) })
	f.num("time", "time of day", "min", func(i int) ingest.Opt[float64] { return intOpt(r[i].Minute) })
	f.text("purpose", "purpose of visit", func(i int) string { return r[i].Purpose.Code })
	f.num("ply", "sock ply on arrival", "ply", func(i int) ingest.Opt[float64] { return plyTotal(r[i].Ply) })
	f.num("socks", "socks worn on arrival", "socks", func(i int) ingest.Opt[float64] {
		if !r[i].Ply.OK {
			return ingest.Opt[float64]{}
		}
		return ingest.Some(float64(len(r[i].Ply.Value.Socks)))
	})
	f.text(cohort.SockList, "socks worn on arrival", func(i int) string { return sockList(r[i].Ply) })
	f.text(cohort.SockListLeft, "socks put on to leave", func(i int) string { return sockList(r[i].PlyLeft) })
	f.num("comfort", "comfort on arrival", "of 10", func(i int) ingest.Opt[float64] { return r[i].Comfort })
	f.num("ply_left", "sock ply on leaving", "ply", func(i int) ingest.Opt[float64] { return plyTotal(r[i].PlyLeft) })
	f.num("comfort_left", "comfort on leaving", "of 10", func(i int) ingest.Opt[float64] { return r[i].ComfortLeft })
	f.num("hours", "hours worn a day", "h", func(i int) ingest.Opt[float64] { return r[i].Hours })
	f.num("mass_kg", "body mass", "kg", func(i int) ingest.Opt[float64] { return r[i].MassKG })
	f.text("accepted", "accepted at the check fitting", func(i int) string { return r[i].Accepted.Code })
	f.text("skin_checked", "skin checked", func(i int) string { return r[i].SkinChecked.Code })
	f.text("action", "action taken", func(i int) string { return r[i].Action.Code })
	f.text("actions", "actions taken", func(i int) string { return allCodes(r[i].Actions) })
	f.num("minutes", "length of visit", "min", func(i int) ingest.Opt[float64] { return r[i].Minutes })
	f.text("seen_by", "seen by", func(i int) string { return r[i].SeenBy })
	return f
}

func findings(log *ingest.Log) *filler {
	r := log.Findings
	f := newFiller(ingest.TableFindings, len(r))
	f.places(func(i int) ingest.Place { return r[i].Place })
	f.text("visit", "visit", func(i int) string { return r[i].Visit })
	f.text("region", "region", func(i int) string { return r[i].Region.Code })
	f.text("finding", "finding", func(i int) string { return r[i].Finding.Code })
	f.num("severity", "severity", "0 to 3", func(i int) ingest.Opt[float64] { return intOpt(r[i].Severity) })
	f.num("fades_min", "minutes to fade", "min", func(i int) ingest.Opt[float64] { return r[i].FadesMin })
	f.num("size_mm", "size", "mm", func(i int) ingest.Opt[float64] { return r[i].SizeMM })
	return f
}

func forming(log *ingest.Log) *filler {
	r := log.Forming
	f := newFiller(ingest.TableForming, len(r))
	f.places(func(i int) ingest.Place { return r[i].Place })
	f.text("socket", "socket", func(i int) string { return r[i].Socket })
	f.date("date", "date formed", func(i int) ingest.Opt[ingest.Date] { return ingest.Some(r[i].Date) })
	f.text("sheet_material", "sheet material", func(i int) string { return r[i].SheetMaterial })
	f.num("sheet_mm", "sheet thickness", "mm", func(i int) ingest.Opt[float64] { return r[i].SheetMM })
	f.num("oven_c", "oven temperature", "°C", func(i int) ingest.Opt[float64] { return r[i].OvenC })
	f.num("minutes", "minutes in the oven", "min", func(i int) ingest.Opt[float64] { return r[i].Minutes })
	f.num("flipped_at_min", "turned at", "min", func(i int) ingest.Opt[float64] { return r[i].FlippedAtMin })
	f.num("thinnest_mm", "thinnest wall", "mm", func(i int) ingest.Opt[float64] { return r[i].ThinnestMM })
	f.text("result", "result", func(i int) string { return r[i].Result })
	f.text("formed_by", "formed by", func(i int) string { return r[i].FormedBy })
	return f
}

// allCodes are several codes in one text, as a question splits them again.
func allCodes(cs []ingest.Coded) string {
	var out []string
	for _, c := range cs {
		if c.Code != "" && !slices.Contains(out, c.Code) {
			out = append(out, c.Code)
		}
	}
	return strings.Join(out, "; ")
}
