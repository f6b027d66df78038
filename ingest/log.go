// Package ingest reads a lab's sheets into a log: six tables of typed
// records, every problem with its cell, and a ledger in which every row read
// is either used or set aside. It knows no statistics.
package ingest

// Date is a calendar day, counted from 1970-01-01.
type Date int

// Opt is a value that may be missing. The zero value is missing.
type Opt[T any] struct {
	Value T
	OK    bool
}

// Some returns a known value.
func Some[T any](v T) Opt[T] { return Opt[T]{v, true} }

// Place is the place of a row: index into Log.Sheets and 1-based sheet row.
type Place struct {
	Sheet int
	Row   int
}

// Coded is a value read through a vocabulary: the code it stands for and the
// text as it was found. Code is empty where missing.
type Coded struct {
	Code string
	Text string
}

// OwnKind is the type of a lab's own column, decided from all its values.
type OwnKind int

// The kinds of own column.
const (
	OwnNumber OwnKind = iota
	OwnText
	OwnDate
)

// OwnColumn is a column of the lab's own on one table, with one value per
// record of that table, in the records' order.
type OwnColumn struct {
	Name        string // as in the header, trimmed
	Kind        OwnKind
	Num         []float64 // OwnNumber: value; OwnDate: days since 1970-01-01
	Text        []string
	OK          []bool
	Identifying bool // names, record numbers, phone...: never printed, never used
	Coded       bool // an intake has random codes stand for its values
}

// Limb is a residual limb of a person.
type Limb struct {
	Place     Place
	Person    string
	Limb      string
	Side      Coded // left, right
	Level     Coded
	Cause     Coded
	Amputated Opt[Date]
	Born      Opt[int] // year
	Sex       Coded
	Activity  Coded // K0 to K4
	Programme string
	LastSeen  Opt[Date]
	Died      Opt[Date]
}

// Socket is a socket made for a limb.
type Socket struct {
	Place         Place
	Socket        string
	Limb          string
	Kind          Coded // check, preparatory, definitive
	Number        Opt[int]
	Use           Coded // everyday, spare, water, sport
	Referred      Opt[Date]
	Ordered       Opt[Date]
	CastOn        Opt[Date]
	CastMethod    string
	CastBy        string
	ShapeMethod   Coded // hand, digital, other
	ShapeStyle    string
	ShapedBy      string
	Replaces      string
	Material      string
	LinerMM       Opt[float64]
	Suspension    string
	Site          string
	Delivered     Opt[Date]
	RemakeDecided Opt[Date]
	Ended         Opt[Date]
	EndReason     Coded
	EndReasons    []Coded // all of them, the first is EndReason; nil where there is one at most
}

// Station is a girth of a limb at a distance from a landmark.
type Station struct {
	Place      Place
	Limb       string
	Date       Date
	Landmark   string
	StationMM  float64
	LimbMM     float64
	Over       Coded // skin, liner, sock
	MinutesOff Opt[float64]
	Repeat     string
	Socket     string
	TargetMM   Opt[float64]
	ModelMM    Opt[float64]
	MeasuredBy string
}

// Ply is what was written for sock ply, read.
type Ply struct {
	Total    float64
	Socks    []float64 // ply of each sock, in the order written
	Sheath   bool
	HalfSock bool
	Morning  Opt[float64]
	Evening  Opt[float64]
	Text     string
}

// Visit is a visit of a person about a socket.
type Visit struct {
	Place       Place
	Visit       string
	Socket      string
	Date        Date
	Minute      Opt[int]     // minute of the day
	Purpose     Coded        // check fitting, delivery, follow-up, walk-in
	Ply         Opt[*Ply]    // shared by visits of which the same was written; not to be changed
	Comfort     Opt[float64] // 0 to 10
	PlyLeft     Opt[*Ply]
	ComfortLeft Opt[float64]
	Hours       Opt[float64]
	MassKG      Opt[float64]
	Accepted    Coded   // yes, adjusted, no
	SkinChecked Coded   // yes, no
	Action      Coded   // the first of Actions
	Actions     []Coded // all that was done, in the order written
	Minutes     Opt[float64]
	SeenBy      string
}

// Finding is what was found on the skin at a visit.
type Finding struct {
	Place    Place
	Visit    string
	Region   Coded
	Finding  Coded
	Severity Opt[int]
	FadesMin Opt[float64]
	SizeMM   Opt[float64]
}

// Forming is one pull of sheet plastic.
type Forming struct {
	Place         Place
	Socket        string
	Date          Date
	SheetMaterial string
	SheetMM       Opt[float64]
	OvenC         Opt[float64]
	Minutes       Opt[float64]
	FlippedAtMin  Opt[float64]
	ThinnestMM    Opt[float64]
	Result        string
	FormedBy      string
}

// The names of the six tables.
const (
	TableLimbs    = "limbs"
	TableSockets  = "sockets"
	TableStations = "stations"
	TableVisits   = "visits"
	TableFindings = "findings"
	TableForming  = "forming"
)

// Log is a lab's log, read.
type Log struct {
	Limbs    []Limb
	Sockets  []Socket
	Stations []Station
	Visits   []Visit
	Findings []Finding
	Forming  []Forming
	Own      map[string][]OwnColumn // by table name
	Sheets   []Sheet                // in the order read
	Problems []Problem              // in the order of file, sheet, row, column
	First    Opt[Date]              // earliest and latest date of any row used
	Last     Opt[Date]
}

// Sheet is the ledger of one sheet (or CSV file): Read = Used + SetAside.
type Sheet struct {
	File           string // path as given
	SHA256         string
	Sheet          string // sheet name; empty for CSV
	Table          string // one of the six, several with commas between (by an intake), or empty if the sheet is not part of the log
	Read           int
	Used           int
	SetAside       int
	ValuesSetAside int // records set aside on rows that are used count too
	HeaderRow      int // the row of the headings, the last one where they take several; 0 where there is none
}

// Done is what was done about a problem.
type Done int

// What can be done about a problem.
const (
	Kept          Done = iota // the value was read, the reader should look
	ValueSetAside             // the value is treated as missing
	RowSetAside               // the row is not used
	// RecordSetAside is of logs read by an intake: the row gives no record of
	// one table, but is used for others.
	RecordSetAside
)

func (d Done) String() string {
	return [...]string{"kept", "value set aside", "row set aside", "record set aside"}[d]
}

// Problem is a defect at a cell. For a column flagged as identifying Found
// is empty: the cell reference alone is shown.
type Problem struct {
	Code   string // stable: "bad-date", "unknown-socket", "duplicate-row", ...
	Sheet  int    // index into Log.Sheets; -1 for a whole file
	File   string
	Tab    string // sheet name, empty for CSV
	Cell   string // "D17"; other cells concerned are named in Text
	Row    int
	Column string // header text
	Found  string
	Want   string // what was expected
	Done   Done
	Text   string // one sentence that says it all, without file and cell
	// Because is the row that this one waits for: it refers to that row, which
	// was itself set aside.
	Because Opt[Place]
}
