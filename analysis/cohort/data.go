package cohort

// Slices below are parallel, one entry per row of the input; a missing
// number or date is NaN, a missing text empty, a missing link -1.

type limbData struct {
	id                              []string
	person                          []int
	amputated, born, lastSeen, died []float64
	index                           map[string]int
}

type socketData struct {
	id, kind, use, reason, replaces            []string
	limb, person                               []int
	number, referred, ordered, cast, delivered []float64
	decided, ended                             []float64 // NaN where later than To
	linerMM                                    []float64
	index                                      map[string]int
	hidden                                     []bool    // every date is later than To
	visits                                     [][]int32 // known by To, in time order
	firstFitting                               []float64
	replacedOn                                 []float64 // delivery of what replaced it, known by To
	leadsTo                                    []int     // check socket -> what it became
	checks                                     [][]int   // the reverse, in time order
	end                                        []float64
	endReason                                  []string
	endBasis                                   []Basis
	sequence                                   []float64
}

type visitData struct {
	id, purpose, accepted, skinChecked []string
	socket                             []int
	date, minute, ply, plyLeft         []float64
	index                              map[string]int
	known                              []bool // dated and not after To
	looked                             []bool // skin checked, or a finding recorded
	timed                              bool   // minute was recorded
	socks, socksLeft                   []SocksWorn
}

type findingData struct {
	visit  []int
	region []string
}

type stationData struct {
	limb, socket            []int
	date, mm, girth, model  []float64
	landmark, over, rep, by []string
	known                   []bool
}

type formingData struct {
	socket []int
	date   []float64
}

type personData struct {
	id       []string  // empty for the stand-in of a limb without a person
	evidence []float64 // last day not after To of any row; -Inf if none
	died     []float64 // NaN unless known by To
	shift    []float64 // days by which all dates were moved
	lost     []float64 // last day on which an ending says the person went out of sight
	index    map[string]int
}
