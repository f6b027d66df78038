package ingest

import "fmt"

// repeatsApart is by how many mm two girths of one point, taken the same day
// by the same person, may differ before they are asked about. Girths of
// models taken by several clinicians with a tape ranged over 9.6 mm on average
// (Geil MD, J Rehabil Res Dev 2007;44:515-524); one person taking one limb
// twice should do better.
const repeatsApart = 10

// samePoint is what repeats of a measurement have in common. Minutes since
// the socket came off are part of it: the limb swells meanwhile.
type samePoint struct {
	limb, landmark, over, by string
	day, station, minutes    float64
}

// checkRepeats asks about measurements of the same point on the same day by
// the same person that lie far apart. Both are kept.
func (r *reader) checkRepeats() {
	first := map[samePoint]*record{}
	for _, rec := range r.used(TableStations) {
		girth := rec.get("limb_mm")
		if !girth.ok {
			continue
		}
		key := samePoint{rec.get("limb").text, rec.get("landmark").text, rec.get("over").code, rec.get("measured_by").text,
			rec.get("date").num, rec.get("station_mm").num, -1}
		if m := rec.get("minutes_off"); m.ok {
			key.minutes = m.num
		}
		prior := first[key]
		if prior == nil {
			first[key] = rec
			continue
		}
		f := rec.index("limb_mm")
		if apart := max(girth.num-prior.val(f).num, prior.val(f).num-girth.num); apart >= repeatsApart {
			who := " by the same person"
			if key.by == "" {
				who = ""
			}
			r.keep(rec, f, CodeRepeatsApart, fmt.Sprintf("girths of one point within %d mm of each other", repeatsApart),
				fmt.Sprintf("the same point was measured that day%s in %s too, and the two differ by %s mm; which is right?", who, prior.cellAt(f, rec), plain(apart)))
		}
	}
}
