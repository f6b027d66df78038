package ingest

import "slices"

// build turns the records in use into the log's rows, in the order read. It
// lets go of a record's values once they stand in the log.
func (r *reader) build() {
	recs := r.used(TableLimbs)
	r.log.Limbs = slices.Grow(r.log.Limbs, len(recs))
	for _, rec := range recs {
		r.log.Limbs = append(r.log.Limbs, Limb{
			Place: rec.place(), Person: rec.str("person"), Limb: rec.str("limb"), Side: rec.coded("side"), Level: rec.coded("level"), Cause: rec.coded("cause"),
			Amputated: rec.day("amputated"), Born: rec.whole("born"), Sex: rec.coded("sex"), Activity: rec.coded("activity"), Programme: rec.str("programme"),
			LastSeen: rec.day("last_seen"), Died: rec.day("died"),
		})
		rec.vals = nil
	}
	recs = r.used(TableSockets)
	r.log.Sockets = slices.Grow(r.log.Sockets, len(recs))
	for _, rec := range recs {
		r.log.Sockets = append(r.log.Sockets, Socket{
			Place: rec.place(), Socket: rec.str("socket"), Limb: rec.str("limb"), Kind: rec.coded("kind"), Number: rec.whole("number"), Use: rec.coded("use"),
			Referred: rec.day("referred"), Ordered: rec.day("ordered"), CastOn: rec.day("cast_on"), CastMethod: rec.str("cast_method"), CastBy: rec.str("cast_by"),
			ShapeMethod: rec.coded("shape_method"), ShapeStyle: rec.str("shape_style"), ShapedBy: rec.str("shaped_by"), Replaces: rec.str("replaces"),
			Material: rec.str("material"), LinerMM: rec.number("liner_mm"), Suspension: rec.str("suspension"), Site: rec.str("site"),
			Delivered: rec.day("delivered"), RemakeDecided: rec.day("remake_decided"), Ended: rec.day("ended"), EndReason: rec.coded("end_reason"),
			EndReasons: rec.get("end_reason").more,
		})
		rec.vals = nil
	}
	recs = r.used(TableStations)
	r.log.Stations = slices.Grow(r.log.Stations, len(recs))
	for _, rec := range recs {
		r.log.Stations = append(r.log.Stations, Station{
			Place: rec.place(), Limb: rec.str("limb"), Date: rec.get("date").date(), Landmark: rec.str("landmark"), StationMM: rec.get("station_mm").num, LimbMM: rec.get("limb_mm").num,
			Over: rec.coded("over"), MinutesOff: rec.number("minutes_off"), Repeat: rec.str("repeat"), Socket: rec.str("socket"),
			TargetMM: rec.number("target_mm"), ModelMM: rec.number("model_mm"), MeasuredBy: rec.str("measured_by"),
		})
		rec.vals = nil
	}
	r.buildVisits()
	recs = r.used(TableFindings)
	r.log.Findings = slices.Grow(r.log.Findings, len(recs))
	for _, rec := range recs {
		r.log.Findings = append(r.log.Findings, Finding{
			Place: rec.place(), Visit: rec.str("visit"), Region: rec.coded("region"), Finding: rec.coded("finding"),
			Severity: rec.whole("severity"), FadesMin: rec.number("fades_min"), SizeMM: rec.number("size_mm"),
		})
		rec.vals = nil
	}
	recs = r.used(TableForming)
	r.log.Forming = slices.Grow(r.log.Forming, len(recs))
	for _, rec := range recs {
		r.log.Forming = append(r.log.Forming, Forming{
			Place: rec.place(), Socket: rec.str("socket"), Date: rec.get("date").date(), SheetMaterial: rec.str("sheet_material"), SheetMM: rec.number("sheet_mm"),
			OvenC: rec.number("oven_c"), Minutes: rec.number("minutes"), FlippedAtMin: rec.number("flipped_at_min"), ThinnestMM: rec.number("thinnest_mm"),
			Result: rec.str("result"), FormedBy: rec.str("formed_by"),
		})
		rec.vals = nil
	}
}

// buildVisits is on all cores: of visits there are most.
func (r *reader) buildVisits() {
	recs := r.used(TableVisits)
	r.log.Visits = make([]Visit, len(recs))
	at := func(name string) int { return fieldIndex(TableVisits, name) }
	visit, socket, date, clock, purpose, ply, comfort := at("visit"), at("socket"), at("date"), at("time"), at("purpose"), at("ply"), at("comfort")
	plyLeft, comfortLeft, hours, mass, accepted, checked := at("ply_left"), at("comfort_left"), at("hours"), at("mass_kg"), at("accepted"), at("skin_checked")
	action, minutes, seenBy := at("action"), at("minutes"), at("seen_by")
	inParts(len(recs), func(_, from, to int) {
		for i := from; i < to; i++ {
			rec := recs[i]
			r.log.Visits[i] = Visit{
				Place: rec.place(), Visit: rec.strAt(visit), Socket: rec.strAt(socket), Date: rec.val(date).date(), Minute: rec.wholeAt(clock), Purpose: rec.codedAt(purpose),
				Ply: rec.plyAt(ply), Comfort: rec.numberAt(comfort), PlyLeft: rec.plyAt(plyLeft), ComfortLeft: rec.numberAt(comfortLeft),
				Hours: rec.numberAt(hours), MassKG: rec.numberAt(mass), Accepted: rec.codedAt(accepted), SkinChecked: rec.codedAt(checked),
				Action: rec.codedAt(action), Actions: rec.val(action).more, Minutes: rec.numberAt(minutes), SeenBy: rec.strAt(seenBy),
			}
			rec.vals = nil
		}
	})
}

func (rec *record) place() Place { return Place{Sheet: rec.sheet.index, Row: rec.row()} }

func (rec *record) str(name string) string { return rec.strAt(rec.index(name)) }

func (rec *record) strAt(f int) string {
	if rec.known(f) {
		return rec.storedText(f)
	}
	return ""
}

func (rec *record) coded(name string) Coded { return rec.codedAt(rec.index(name)) }

// codedAt keeps the text even where it could not be read.
func (rec *record) codedAt(f int) Coded {
	v := rec.store.stored(rec.vals[f])
	return Coded{Code: rec.store.codes[v.code], Text: rec.store.texts.at(v.text)}
}

func (rec *record) day(name string) Opt[Date] {
	v := rec.get(name)
	if !v.ok {
		return Opt[Date]{}
	}
	return Some(v.date())
}

func (rec *record) whole(name string) Opt[int] { return rec.wholeAt(rec.index(name)) }

func (rec *record) wholeAt(f int) Opt[int] {
	if !rec.known(f) {
		return Opt[int]{}
	}
	return Some(int(rec.storedNum(f)))
}

func (rec *record) number(name string) Opt[float64] { return rec.numberAt(rec.index(name)) }

func (rec *record) numberAt(f int) Opt[float64] {
	if !rec.known(f) {
		return Opt[float64]{}
	}
	return Some(rec.storedNum(f))
}

func (rec *record) plyAt(f int) Opt[*Ply] {
	v := rec.val(f)
	if !v.ok {
		return Opt[*Ply]{}
	}
	return Some(v.ply)
}
