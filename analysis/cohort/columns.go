package cohort

import (
	"slices"

	"plybook/analysis/table"
)

// ColumnDoc describes a derived column.
type ColumnDoc struct {
	Name       string
	Label      string // as a clinician would say it
	Unit       string
	Kind       table.Kind
	Rows       []string    // the tables of rows that have it
	Known      table.Known // when, for a socket's life, it is known
	Definition string
}

// EarlyRemake is the column that the named set early-remake stands for. It
// can be told of a socket only once it was followed for so many days.
const EarlyRemake = "early_remake"

// YearDelivered is the column of the year of delivery: a day of the calendar,
// if a rough one.
const YearDelivered = "year_delivered"

// MonthOfYear is the column of the month in which a row is dated: a day of the
// calendar, if a rough one. HourOfDay is the hour at which a visit began.
const (
	MonthOfYear = "month_of_year"
	HourOfDay   = "hour_of_day"
)

// Derived lists the derived columns in the order in which they are printed.
// A name stands twice where it means one thing of a socket and another of a
// visit or measurement.
func Derived() []ColumnDoc {
	all := []string{Persons, Limbs, Sockets, Visits, Findings, Stations, Forming}
	ofSocket := []string{Sockets, Visits, Findings, Stations, Forming}
	ofVisit := []string{Visits, Findings}
	return []ColumnDoc{
		{"age", "age", "years", table.Number, all, table.AtStart,
			"Years from 1 July of the birth year to the delivery of the socket (check sockets: to the first check fitting; persons and limbs: to their first delivery). Only the year of birth is kept, so it is right to within half a year."},
		{"months_since_amputation", "months since amputation", "months", table.Number, []string{Limbs, Sockets}, table.AtStart,
			"Months of 30.4375 days from amputation to the delivery of the socket (check sockets: to the first check fitting; limbs: to the first delivery). Missing where the delivery comes before the amputation."},
		{"months_since_amputation", "months since amputation", "months", table.Number, []string{Visits, Findings, Stations, Forming}, table.Always,
			"Months of 30.4375 days from amputation to the date of the row."},
		{YearDelivered, "year of delivery", "", table.Text, ofSocket, table.AtStart,
			"The year of the delivery (check sockets: of the first check fitting), to tell eras of supply apart: of the calendar, or from the month that the notebook sets under `year_begins`, and then such as 2025/26. Missing where dates are shifted."},
		{"sequence", "nth definitive socket of the limb", "", table.Number, ofSocket, table.AtStart,
			"`number` where given; else the order of delivery among the limb's definitive sockets, where the amputation falls on or after `log_since`. Otherwise missing, since earlier sockets may be unrecorded."},
		{"fittings", "check fittings before delivery", "", table.Number, ofSocket, table.AtStart,
			"Visits for a check fitting up to the delivery, of the check sockets that led to this socket and of the socket itself. Missing where a check socket led to it but no check fitting is recorded. A check socket belongs to the socket that it leads to through `replaces`, else to the limb's next definitive delivered within 180 days."},
		{"first_fit", "first-time fit", "", table.Text, ofSocket, table.AtStart,
			"Yes where the first check fitting was accepted, as it was or adjusted, and no new check socket was made; no where it was not accepted or a new check socket followed. Missing where no check fitting is recorded, or where nothing says whether it was accepted."},
		{"first_fit_clean", "first-time fit without adjustment", "", table.Text, ofSocket, table.AtStart,
			"As first_fit, but yes only where the first check fitting was accepted as it was."},
		{"reduction_pct", "mean reduction of the model", "%", table.Number, []string{Sockets, Visits, Findings, Forming}, table.AtStart,
			"Mean over the socket's stations of 100 (limb - model) / limb; positive where the model is smaller than the limb. Repeats of a station are averaged first. Where stations were taken from several landmarks or over several layers, those of the landmark and layer with most stations."},
		{"reduction_pct", "reduction of the model", "%", table.Number, []string{Stations}, table.AtStart,
			"100 (limb - model) / limb at the station; positive where the model is smaller than the limb."},
		{"volume_ml", "limb volume at the cast", "ml", table.Number, []string{Sockets, Forming}, table.AtStart,
			"Volume by truncated cones of the first measurement within 14 days of the cast, from volume_from_mm to volume_to_mm."},
		{"volume_ml", "limb volume", "ml", table.Number, []string{Visits, Findings, Stations}, table.Later,
			"Volume by truncated cones of the measurement of that day, from volume_from_mm to volume_to_mm. On stations it stands in the row of the first station of each set (same day, landmark, layer, measurer and repeat) and is missing in the others, so that a set counts once."},
		{"volume_from_mm", "volume from", "mm", table.Number, ofSocket, table.AtStart,
			"Where the volume begins, from the landmark. The span is the stretch shared by the limb's measurements from one landmark and over one layer; measurements that share less than half of the usual length are left out and have no volume."},
		{"volume_to_mm", "volume to", "mm", table.Number, ofSocket, table.AtStart,
			"Where the volume ends, from the landmark; see volume_from_mm."},
		{"volume_change_pct", "change in limb volume since the cast", "%", table.Number, ofSocket, table.Later,
			"100 (later - earlier) / earlier, the earlier being the first measurement within 14 days of the cast, from the same landmark, over the same layer and over the span that both measured; missing where there is none. On visits: measured that day. On sockets: the last measurement from the delivery to the socket's end. On stations whose row names no socket: against the limb's last cast up to that day, else the next within 14 days."},
		{"ply_at_delivery", "sock ply at delivery", "ply", table.Number, ofSocket, table.AtStart,
			"Total ply at the visit for delivery, else at the first visit on the day of delivery: on arrival, else on leaving."},
		{"ply_change", "change in sock ply since delivery", "ply", table.Number, []string{Sockets, Stations, Forming}, table.Later,
			"Total ply at the last visit of the socket less ply_at_delivery."},
		{"ply_change", "change in sock ply since delivery", "ply", table.Number, ofVisit, table.Later,
			"Total ply on arrival less ply_at_delivery; missing before delivery."},
		{"socks", "number of socks", "", table.Number, ofVisit, table.Later,
			"Number of socks worn on arrival, sheaths not counted: ply does not add up in thickness, so two socks are more than one of the same ply."},
		{SockList, "socks worn on arrival", "", table.Text, ofVisit, table.Later,
			"The ply of each sock worn on arrival, in the order written and joined by +, with sheath and half sock for what has no ply; 0 where none was worn. A total of up to 6 ply is taken for one sock; missing where a larger total or a range was written, since nothing says which socks they were."},
		{SockListLeft, "socks put on to leave", "", table.Text, ofVisit, table.Later,
			"As sock_list, on leaving."},
		{"sock_mm", "thickness of the socks worn", "mm", table.Number, ofVisit, table.Later,
			"The sum of the thicknesses of the socks of sock_list, each by its ply from `sock_thickness` in the head of the notebook, on a straight line between the ply known; sheaths count for nothing. Missing where the list is, or where it holds a half sock."},
		{"sock_volume_pct", "volume of the socks worn", "%", table.Number, ofVisit, table.Later,
			"Volume of an even layer of sock_mm around the girths measured nearest to the visit, in percent of the limb's volume between the first and the last station: girth times thickness plus pi times its square, along the limb. A liner is not counted unless girths were taken over it. Missing where sock_mm is, or where the limb was not measured within 180 days."},
		{"days_since_delivery", "days since delivery", "days", table.Number, []string{Visits, Findings, Stations, Forming}, table.Later,
			"Days from the delivery of the socket to the date of the row; negative before delivery."},
		{HourOfDay, "hour of the day", "h", table.Number, ofVisit, table.Later,
			"The time of the visit in hours since midnight, 14.5 for half past two; missing where no time is recorded."},
		{MonthOfYear, "month of the year", "", table.Number, []string{Visits, Findings, Stations}, table.Later,
			"1 for January to 12 for December, of the date of the row; to be taken as a category name it in `factors`. Missing where dates are shifted."},
		{"turnaround_days", "days from referral to delivery", "days", table.Number, ofSocket, table.AtStart,
			"Days from referral, else from order, to delivery; missing where the delivery comes first."},
		{"bony", "over bone", "", table.Text, []string{Findings}, table.Later,
			"Yes where the region of the finding lies over bone, no where over soft tissue; missing for regions of neither kind."},
		{EarlyRemake, "remade early", "", table.Text, ofSocket, table.Later,
			"Yes where the socket was remade within the days from delivery that the notebook sets under `early_remake` (90 unless set), no where it was not. Missing where it was not followed for so long, or ended by then for a reason or on a day not recorded."},
		{"follow_up_days", "days of follow-up", "days", table.Number, all, table.Later,
			"Days from the start of the socket's life (persons and limbs: from the first delivery) to its end, else to the last day on which anything was recorded of the person."},
	}
}

// logColumn says when a column of the log is known and how it reads.
type logColumn struct {
	label, unit string
	known       table.Known
}

// logColumns holds, by table, the log's own field names. Columns not listed
// as own come from these, so the lists also say which names own columns
// cannot take.
var logColumns = map[string]map[string]logColumn{
	Limbs: {
		"person": {"person", "", table.Always}, "limb": {"limb", "", table.Always}, "side": {"side", "", table.Always},
		"level": {"level of amputation", "", table.Always}, "cause": {"cause of amputation", "", table.Always},
		"amputated": {"date of amputation", "", table.Always}, "born": {"year of birth", "", table.Always}, "sex": {"sex", "", table.Always},
		"activity": {"activity level", "", table.AtStart}, "programme": {"programme", "", table.AtStart},
		"last_seen": {"last seen", "", table.Later}, "died": {"died", "", table.Later},
	},
	Sockets: {
		"socket": {"socket", "", table.Always}, "limb": {"limb", "", table.Always}, "kind": {"kind of socket", "", table.AtStart},
		"number": {"number of the definitive", "", table.AtStart}, "use": {"use", "", table.AtStart}, "referred": {"referred", "", table.AtStart},
		"ordered": {"ordered", "", table.AtStart}, "cast_on": {"cast on", "", table.AtStart}, "cast_method": {"cast method", "", table.AtStart},
		"cast_by": {"cast by", "", table.AtStart}, "shape_method": {"shaping method", "", table.AtStart}, "shape_style": {"shaping style", "", table.AtStart},
		"shaped_by": {"shaped by", "", table.AtStart}, "replaces": {"replaces", "", table.AtStart}, "material": {"material", "", table.AtStart},
		"liner_mm": {"liner thickness", "mm", table.AtStart}, "suspension": {"suspension", "", table.AtStart}, "site": {"site", "", table.AtStart},
		"delivered": {"delivered", "", table.AtStart}, "remake_decided": {"remake decided", "", table.Later}, "ended": {"ended", "", table.Later},
		"end_reason": {"reason for the end", "", table.Later}, "end_reasons": {"reasons for the end", "", table.Later},
	},
	Stations: {
		"limb": {"limb", "", table.Always}, "date": {"date measured", "", table.Later}, "landmark": {"landmark", "", table.Always},
		"station_mm": {"distance from the landmark", "mm", table.Always}, "limb_mm": {"circumference", "mm", table.Later},
		"over": {"measured over", "", table.Always}, "minutes_off": {"time since the socket came off", "min", table.Later},
		"repeat": {"repeat", "", table.Always}, "socket": {"socket", "", table.Always}, "target_mm": {"target circumference", "mm", table.AtStart},
		"model_mm": {"circumference of the model", "mm", table.AtStart}, "measured_by": {"measured by", "", table.Later},
	},
	Visits: {
		"visit": {"visit", "", table.Always}, "socket": {"socket", "", table.Always}, "date": {"date of visit", "", table.Later},
		"time": {"time of visit", "", table.Later}, "purpose": {"purpose of visit", "", table.Later}, "ply": {"sock ply", "ply", table.Later},
		"comfort": {"comfort (0 to 10)", "", table.Later}, "ply_left": {"sock ply on leaving", "ply", table.Later},
		"comfort_left": {"comfort on leaving (0 to 10)", "", table.Later}, "hours": {"hours worn a day", "hours", table.Later},
		"mass_kg": {"body mass", "kg", table.Later}, "accepted": {"check fitting accepted", "", table.Later},
		"skin_checked": {"skin checked", "", table.Later}, "action": {"action", "", table.Later}, "actions": {"actions", "", table.Later}, "minutes": {"length of visit", "min", table.Later},
		"seen_by": {"seen by", "", table.Later},
	},
	Findings: {
		"visit": {"visit", "", table.Always}, "region": {"region", "", table.Later}, "finding": {"finding", "", table.Later},
		"severity": {"severity (0 to 3)", "", table.Later}, "fades_min": {"fades within", "min", table.Later}, "size_mm": {"size", "mm", table.Later},
	},
	Forming: {
		"socket": {"socket", "", table.Always}, "date": {"date formed", "", table.AtStart}, "sheet_material": {"sheet material", "", table.AtStart},
		"sheet_mm": {"sheet thickness", "mm", table.AtStart}, "oven_c": {"oven temperature", "\u00b0C", table.AtStart},
		"minutes": {"time in the oven", "min", table.AtStart}, "flipped_at_min": {"turned after", "min", table.AtStart},
		"thinnest_mm": {"thinnest place", "mm", table.AtStart}, "result": {"result of forming", "", table.AtStart}, "formed_by": {"formed by", "", table.AtStart},
	},
}

// ownKnown says when a lab's own column on a table is taken as known.
func ownKnown(name string) table.Known {
	switch name {
	case Limbs:
		return table.Always
	case Sockets, Forming:
		return table.AtStart
	}
	return table.Later
}

// reserved holds the names that an own column cannot be reached by without
// its prefix.
func reserved() map[string]bool {
	out := map[string]bool{}
	for _, cols := range logColumns {
		for name := range cols {
			out[name] = true
		}
	}
	for _, d := range Derived() {
		out[d.Name] = true
	}
	return out
}

// docFor finds the documentation of a derived column on a table of rows.
func docFor(name, rows string) (ColumnDoc, bool) {
	for _, d := range Derived() {
		if d.Name == name && slices.Contains(d.Rows, rows) {
			return d, true
		}
	}
	return ColumnDoc{}, false
}
