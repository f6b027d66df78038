package ingest

// FieldKind says how a cell of a field is read.
type FieldKind int

// The kinds of field.
const (
	KindID     FieldKind = iota // text kept as it is
	KindText                    // text kept as it is, never a reference
	KindDate                    // calendar day
	KindYear                    // date or year, only the year is kept
	KindTime                    // time of day
	KindNumber                  // number with a unit
	KindWhole                   // whole number
	KindScore                   // comfort, 0 to 10
	KindWord                    // word of a vocabulary
	KindWords                   // one or more words of a vocabulary
	KindPly                     // sock ply
)

// Field is a column of a table in the plain layout.
type Field struct {
	Name     string
	Kind     FieldKind
	Required bool
	Unit     string      // unit stored: mm, kg, C, min, h; empty without
	Words    *Vocabulary // KindWord and KindWords
	Low      float64     // KindNumber, KindWhole: plausible values, both ends included
	High     float64
	Staff    bool // names a member of staff
	Person   bool // names or reveals a person
	Note     string
}

// Tables returns the names of the six tables in the order of the log.
func Tables() []string {
	return []string{TableLimbs, TableSockets, TableStations, TableVisits, TableFindings, TableForming}
}

var schema = map[string][]Field{
	TableLimbs: {
		{Name: "person", Kind: KindID, Required: true, Person: true, Note: "code of the person"},
		{Name: "limb", Kind: KindID, Person: true, Note: "code of the limb; default: person and L or R"},
		{Name: "side", Kind: KindWord, Required: true, Words: &sides},
		{Name: "level", Kind: KindWord, Required: true, Words: &levels},
		{Name: "cause", Kind: KindWord, Words: &causes},
		{Name: "amputated", Kind: KindDate, Note: "date of the amputation"},
		{Name: "born", Kind: KindYear, Person: true, Note: "year of birth; of a date only the year is kept"},
		{Name: "sex", Kind: KindWord, Words: &sexes},
		{Name: "activity", Kind: KindWord, Words: &activities},
		{Name: "programme", Kind: KindText, Note: "who the person is seen under"},
		{Name: "last_seen", Kind: KindDate},
		{Name: "died", Kind: KindDate},
	},
	TableSockets: {
		{Name: "socket", Kind: KindID, Required: true, Note: "code of the socket"},
		{Name: "limb", Kind: KindID, Required: true, Person: true, Note: "limb it was made for"},
		{Name: "kind", Kind: KindWord, Required: true, Words: &kinds},
		{Name: "number", Kind: KindWhole, Low: 1, High: 99, Note: "1 for the limb's first definitive socket, 2 for the second"},
		{Name: "use", Kind: KindWord, Words: &uses},
		{Name: "referred", Kind: KindDate},
		{Name: "ordered", Kind: KindDate},
		{Name: "cast_on", Kind: KindDate},
		{Name: "cast_method", Kind: KindText},
		{Name: "cast_by", Kind: KindText, Staff: true},
		{Name: "shape_method", Kind: KindWord, Words: &shapeMethods},
		{Name: "shape_style", Kind: KindText},
		{Name: "shaped_by", Kind: KindText, Staff: true},
		{Name: "replaces", Kind: KindID, Note: "code of the socket that this one takes the place of"},
		{Name: "material", Kind: KindText},
		{Name: "liner_mm", Kind: KindNumber, Unit: "mm", Low: 0, High: 30},
		{Name: "suspension", Kind: KindText},
		{Name: "site", Kind: KindText},
		{Name: "delivered", Kind: KindDate},
		{Name: "remake_decided", Kind: KindDate},
		{Name: "ended", Kind: KindDate},
		{Name: "end_reason", Kind: KindWord, Words: &endReasons},
	},
	TableStations: {
		{Name: "limb", Kind: KindID, Required: true, Person: true},
		{Name: "date", Kind: KindDate, Required: true},
		{Name: "landmark", Kind: KindText, Required: true, Note: "point that distances are taken from"},
		{Name: "station_mm", Kind: KindNumber, Required: true, Unit: "mm", Low: -300, High: 800, Note: "distance from the landmark, positive towards the end of the limb"},
		{Name: "limb_mm", Kind: KindNumber, Required: true, Unit: "mm", Low: 60, High: 1200, Note: "girth of the limb"},
		{Name: "over", Kind: KindWord, Words: &overs},
		{Name: "minutes_off", Kind: KindNumber, Unit: "min", Low: 0, High: 1440, Note: "minutes since the socket came off"},
		{Name: "repeat", Kind: KindText, Note: "1, 2, 3 where a station is measured more than once"},
		{Name: "socket", Kind: KindID},
		{Name: "target_mm", Kind: KindNumber, Unit: "mm", Low: 60, High: 1200},
		{Name: "model_mm", Kind: KindNumber, Unit: "mm", Low: 60, High: 1200, Note: "girth of the modified model"},
		{Name: "measured_by", Kind: KindText, Staff: true},
	},
	TableVisits: {
		{Name: "visit", Kind: KindID, Note: "code of the visit; default: socket, date and time"},
		{Name: "socket", Kind: KindID, Required: true},
		{Name: "date", Kind: KindDate, Required: true},
		{Name: "time", Kind: KindTime},
		{Name: "purpose", Kind: KindWord, Words: &purposes},
		{Name: "ply", Kind: KindPly, Note: "sock ply on arrival, such as 5+3"},
		{Name: "comfort", Kind: KindScore, Note: "comfort on arrival, 0 to 10"},
		{Name: "ply_left", Kind: KindPly, Note: "sock ply on leaving"},
		{Name: "comfort_left", Kind: KindScore, Note: "comfort on leaving, 0 to 10"},
		{Name: "hours", Kind: KindNumber, Unit: "h", Low: 0, High: 24, Note: "hours worn a day"},
		{Name: "mass_kg", Kind: KindNumber, Unit: "kg", Low: 5, High: 300},
		{Name: "accepted", Kind: KindWord, Words: &accepteds, Note: "check fittings only"},
		{Name: "skin_checked", Kind: KindWord, Words: &yesNo},
		{Name: "action", Kind: KindWords, Words: &actions},
		{Name: "minutes", Kind: KindNumber, Unit: "min", Low: 0, High: 1440},
		{Name: "seen_by", Kind: KindText, Staff: true},
	},
	TableFindings: {
		{Name: "visit", Kind: KindID, Required: true},
		{Name: "region", Kind: KindWord, Required: true, Words: &regions},
		{Name: "finding", Kind: KindWord, Required: true, Words: &findings},
		{Name: "severity", Kind: KindWhole, Low: 0, High: 3},
		{Name: "fades_min", Kind: KindNumber, Unit: "min", Low: 0, High: 10080},
		{Name: "size_mm", Kind: KindNumber, Unit: "mm", Low: 0, High: 500},
	},
	TableForming: {
		{Name: "socket", Kind: KindID, Required: true},
		{Name: "date", Kind: KindDate, Required: true},
		{Name: "sheet_material", Kind: KindText},
		{Name: "sheet_mm", Kind: KindNumber, Unit: "mm", Low: 0.5, High: 40},
		{Name: "oven_c", Kind: KindNumber, Unit: "C", Low: 20, High: 300},
		{Name: "minutes", Kind: KindNumber, Unit: "min", Low: 0, High: 240},
		{Name: "flipped_at_min", Kind: KindNumber, Unit: "min", Low: 0, High: 240},
		{Name: "thinnest_mm", Kind: KindNumber, Unit: "mm", Low: 0, High: 40},
		{Name: "result", Kind: KindText},
		{Name: "formed_by", Kind: KindText, Staff: true},
	},
}

// Fields returns the fields of a table in the plain layout, nil for a name
// that is not one of the six.
func Fields(table string) []Field { return append([]Field(nil), schema[table]...) }
