package cohort

import (
	"math"
	"sort"
	"strconv"
	"strings"

	"plybook/analysis/limb"
	"plybook/analysis/table"
)

// The columns of visits that list the socks worn, one over the other, as the
// log hands them over: the ply of each joined by SockJoin, with the words for
// pieces that have no ply, such as "5+3" or "sheath+5"; "0" where none was
// worn, missing where only a total is known.
const (
	SockList     = "sock_list"
	SockListLeft = "sock_list_left"
	SockJoin     = "+"
	WordSheath   = "sheath"
	WordHalfSock = "half sock"
)

// nearestGirthDays is how far in days a measurement may lie from a visit for
// sock_volume_pct. The share of a volume that a layer takes changes by about
// half of what the volume does.
const nearestGirthDays = 180

// SocksWorn is a list of socks.
type SocksWorn struct {
	Known    bool // false: a total at most
	Ply      []float64
	Sheath   bool
	HalfSock bool
}

// readSocks reads a list as the log hands it over.
func readSocks(text string) SocksWorn {
	if text == "" {
		return SocksWorn{}
	}
	s := SocksWorn{Known: true}
	for _, part := range strings.Split(text, SockJoin) {
		switch part {
		case WordSheath:
			s.Sheath = true
		case WordHalfSock:
			s.HalfSock = true
		default:
			ply, err := strconv.ParseFloat(part, 64)
			if err != nil || !(ply >= 0) {
				return SocksWorn{}
			}
			if ply > 0 {
				s.Ply = append(s.Ply, ply)
			}
		}
	}
	return s
}

// MM is the thickness of the socks, one over the other. Sheaths count for
// nothing, being thin and of no ply. beyond says that a sock has more ply
// than any whose thickness is known. NaN where the list is not known, or
// holds a half sock, which makes no even layer.
func (s SocksWorn) MM(t limb.Thickness) (mm float64, beyond bool) {
	if !s.Known || s.HalfSock {
		return nan, false
	}
	return t.OfAll(s.Ply)
}

// Words is the list as it is written: "5+3", "none".
func (s SocksWorn) Words() string {
	var parts []string
	if s.Sheath {
		parts = append(parts, WordSheath)
	}
	for _, p := range s.Ply {
		parts = append(parts, strconv.FormatFloat(p, 'f', -1, 64))
	}
	if s.HalfSock {
		parts = append(parts, WordHalfSock)
	}
	if len(parts) == 0 {
		return "none"
	}
	return strings.Join(parts, SockJoin)
}

// socksOf are the lists of a column of visits.
func socksOf(t *table.Table, name string) []SocksWorn {
	out := make([]SocksWorn, t.Rows())
	col, ok := t.Col(name)
	if !ok || col.Own || col.Kind != table.Text {
		return out
	}
	for i := range out {
		if !col.Missing[i] {
			out[i] = readSocks(col.Text[i])
		}
	}
	return out
}

// nearest picks what was measured of a limb nearest to a day, no further than
// within: of the series of the socket's cast if that was measured then, else
// of the series with most stations. Of two equally near the earlier.
func (c *Cohort) nearest(limbRow int, day, cast, within float64) (key series, found measurement, ok bool) {
	preferred, _, has := c.castSeries(limbRow, cast)
	for _, k := range c.measures.byLimb[limbRow] {
		m, near := nearestOf(c.measures.of[k], day, within)
		if !near {
			continue
		}
		if has && k == preferred {
			return k, m, true
		}
		if !ok || m.stations > found.stations {
			key, found, ok = k, m, true
		}
	}
	return key, found, ok
}

func nearestOf(ms []measurement, day, within float64) (found measurement, ok bool) {
	i := sort.Search(len(ms), func(i int) bool { return ms[i].date >= day })
	best := within
	for _, k := range []int{i - 1, i} {
		if k >= 0 && k < len(ms) {
			if d := math.Abs(ms[k].date - day); d < best || !ok && d <= best {
				found, best, ok = ms[k], d, true
			}
		}
	}
	return found, ok
}

// sockColumns are the thickness of the socks worn at each visit, and what
// they take of that limb's volume.
func (c *Cohort) sockColumns() []*table.Column {
	v, s := &c.visits, &c.sockets
	mm, share := derived("sock_mm", Visits, len(v.id)), derived("sock_volume_pct", Visits, len(v.id))
	for i, worn := range v.socks {
		thick, _ := worn.MM(c.set.Socks)
		mm.SetNum(i, thick)
		k := v.socket[i]
		if math.IsNaN(thick) || k < 0 || !v.known[i] || s.limb[k] < 0 {
			continue
		}
		if _, m, ok := c.nearest(s.limb[k], v.date[i], s.cast[k], nearestGirthDays); ok {
			if layer, err := m.profile.Layer(m.profile.Span(), thick); err == nil {
				share.SetNum(i, 100*layer/m.profile.Volume())
			}
		}
	}
	return []*table.Column{mm, share}
}

// SockGap is why socks and volume of a visit cannot be held against one
// another.
type SockGap string

// The reasons, in the order in which they are looked for.
const (
	SockNoSocket     SockGap = "no socket with a day of delivery"
	SockNotAfter     SockGap = "not after the delivery"
	SockNoList       SockGap = "no list of socks at the visit"
	SockHalf         SockGap = "a half sock, which is no even layer"
	SockNoListBefore SockGap = "no list of socks at delivery"
	SockNoVolume     SockGap = "limb not measured near the visit"
	SockNoBase       SockGap = "limb not measured near delivery or cast"
	SockSameMeasure  SockGap = "one measurement near both delivery and visit"
	SockNoStations   SockGap = "fewer than two stations in common"
)

// SockChange holds the socks of a visit against those at delivery, and what
// was measured of the limb near both.
type SockChange struct {
	Limb, Socket   string
	Days           float64 // from delivery to the visit
	Then, Now      SocksWorn
	ThenMM, NowMM  float64
	Beyond         bool      // a sock has more ply than any whose thickness is known
	Earlier, Later limb.Set  // of the stations that both have
	Span           limb.Span // over which they are compared
	AtCast         bool      // the earlier one is the cast's, none being near the delivery
	EarlierBy      string    // measurers, "" where not told
	LaterBy        string
	Over           string  // layer measured over
	LinerMM        float64 // of the socket; NaN where not told
}

// SockChange is that of a visit; the gap is empty where there is one.
func (c *Cohort) SockChange(visit string) (out SockChange, gap SockGap) {
	v, s := &c.visits, &c.sockets
	i, ok := v.index[visit]
	if !ok || v.socket[i] < 0 {
		return out, SockNoSocket
	}
	k := v.socket[i]
	delivered := s.delivered[k]
	if math.IsNaN(delivered) || s.limb[k] < 0 {
		return out, SockNoSocket
	}
	out.Limb, out.Socket, out.Days, out.Now = c.limbs.id[s.limb[k]], s.id[k], v.date[i]-delivered, v.socks[i]
	if !v.known[i] || !(v.date[i] > delivered) {
		return out, SockNotAfter
	}
	out.Then = c.socksAtDelivery(k)
	out.LinerMM = s.linerMM[k]
	if !out.Now.Known {
		return out, SockNoList
	}
	if out.Now.HalfSock || out.Then.HalfSock {
		return out, SockHalf
	}
	if !out.Then.Known {
		return out, SockNoListBefore
	}
	var far1, far2 bool
	out.NowMM, far1 = out.Now.MM(c.set.Socks)
	out.ThenMM, far2 = out.Then.MM(c.set.Socks)
	out.Beyond = far1 || far2
	return out, c.sockVolumes(&out, k, v.date[i])
}

// sockVolumes finds the two measurements of a limb for a visit on a day.
func (c *Cohort) sockVolumes(out *SockChange, k int, day float64) SockGap {
	s, within := &c.sockets, c.set.CastWindowDays
	key, later, ok := c.nearest(s.limb[k], day, s.cast[k], within)
	if !ok {
		return SockNoVolume
	}
	earlier, ok := nearestOf(c.measures.of[key], s.delivered[k], within)
	if !ok {
		earlier, ok = c.castBaseline(s.cast[k], key)
		out.AtCast = true
	}
	switch {
	case !ok:
		return SockNoBase
	case earlier.date >= later.date:
		return SockSameMeasure
	}
	both, err := limb.Common(limb.Set{Profile: earlier.profile, Sets: earlier.runs, Measurers: earlier.measurers}, limb.Set{Profile: later.profile, Sets: later.runs, Measurers: later.measurers})
	if err != nil {
		return SockNoStations
	}
	span, err := limb.CommonSpan(both[0].Profile, both[1].Profile)
	if err != nil {
		return SockNoStations
	}
	out.Earlier, out.Later, out.Span = both[0], both[1], span
	out.EarlierBy, out.LaterBy, out.Over = earlier.by, later.by, key.over
	return ""
}

// socksAtDelivery are those of plyAtDelivery.
func (c *Cohort) socksAtDelivery(k int) SocksWorn {
	s, v := &c.sockets, &c.visits
	for _, onlyDelivery := range []bool{true, false} {
		for _, j := range s.visits[k] {
			at := v.purpose[j] == PurposeDelivery
			if !onlyDelivery {
				at = v.date[j] == s.delivered[k]
			}
			if !at {
				continue
			}
			switch {
			case v.socks[j].Known:
				return v.socks[j]
			case !math.IsNaN(v.ply[j]): // a total that no list belongs to
				return SocksWorn{}
			case v.socksLeft[j].Known:
				return v.socksLeft[j]
			}
		}
	}
	return SocksWorn{}
}
