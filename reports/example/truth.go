package example

import (
	"math"
	"time"

	"plybook/ingest"
)

// Truth is everything that was decided about the invented lab before a row
// was drawn. An analysis of the drawn log can be held against it.
//
// Lives are independent given the covariates: no person or limb is more
// prone to remakes than its covariates say. The hazard ratios of a Cox model
// that holds cast method, cause and first_definitive are therefore exactly
// the ones below, and intervals clustered by person are as wide as the plain
// ones but for chance. Times are drawn in continuous days and rounded up, so
// that "later than day d" has the same probability before and after rounding.
//
// Visits and deliveries fall on any day of the week, as in no real lab: moving
// them off weekends would bend the lives.
//
// Follow-up is censored without regard to sockets: every person still
// followed is last seen on a day of the closing weeks drawn beforehand
// (last_seen), and nothing of that person is dated after it.
type Truth struct {
	// Opens and Closes are the first and last day of the log.
	Opens, Closes ingest.Date
	// Persons is how many people the lab has; BothSided of them have two
	// residual limbs.
	Persons, BothSided int
	// Established is the chance that a person is worn-in when the log
	// opens: amputated years ago, wearing a definitive socket that was
	// delivered before Opens. The others are referred while it runs.
	Established float64

	// Levels, Causes and Sites are drawn with these chances: level by limb,
	// cause and site by person.
	Levels, Causes, Sites []Share

	// VacuumCast is the chance that a definitive socket was cast under
	// vacuum rather than by hand, whatever the covariates.
	VacuumCast float64

	// Shape and ScaleDays give the Weibull life, from delivery to the
	// decision to remake for any reason, of a later (not the first)
	// definitive socket, cast by hand, after an amputation whose cause has
	// no entry in LogHRCause: S(t) = exp(-(t/ScaleDays)^Shape).
	Shape, ScaleDays float64
	// LogHRVacuum is the log hazard ratio of vacuum against hand.
	LogHRVacuum float64
	// LogHRFirst is the log hazard ratio of the first definitive socket of
	// a limb against later ones (own column first_definitive).
	LogHRFirst float64
	// LogHRCause holds the log hazard ratios of causes against trauma;
	// causes without an entry have 0.
	LogHRCause map[string]float64

	// A remake at t days after delivery has reason j with chance
	//   early_j * turn/(turn+t) + late_j * t/(turn+t)
	// where turn is ReasonTurnDays. It depends on nothing but t, so each
	// reason alone has the same hazard ratios as all remakes.
	EarlyReasons, LateReasons []Share
	ReasonTurnDays            float64
	// OutOfUse is the chance that a remade socket is taken out of use on
	// the day of the decision. Then remake_decided is blank and ended is
	// that day; else ended is the delivery of the next socket.
	OutOfUse float64

	// OtherEnds are the endings of a definitive socket that are no remake:
	// constant hazards per year, the same for every socket.
	OtherEnds []Share
	// DeathsPerYear are constant hazards by cause.
	DeathsPerYear map[string]float64
	// LossPerYear is the constant hazard of losing touch with a person; a
	// share MovedAway of them is known to have moved, which ends their
	// sockets with that reason.
	LossPerYear, MovedAway float64

	// PracticeChange is the day from which the limb is measured a second
	// time at casting. FirstFitBefore and FirstFitAfter are the chances
	// that a check socket is accepted at its fitting, by the date of its
	// cast; AsIs is the chance that an accepted one needed no adjusting.
	PracticeChange                ingest.Date
	FirstFitBefore, FirstFitAfter float64
	AsIs                          float64

	// MakeLogMean and MakeLogSD give the days from the last cast to the
	// delivery of the definitive socket: log-normal, rounded to a day, and
	// never before the day after the check fitting.
	MakeLogMean, MakeLogSD float64

	// Limb volume in ml, t days after amputation:
	//   V(t) = V_inf + (V_0 - V_inf) exp(-ShrinkPerDay t)
	// V_inf is normal between limbs (VolumeMean and VolumeSD by level) and
	// so is the drop V_0 - V_inf (DropMean, DropSD, as shares of the level's
	// VolumeMean). A tape reading of the frusta between the first and the
	// last station adds a normal error of sd VolumeErrorML; girths are then
	// rounded to 1 mm.
	ShrinkPerDay         float64
	VolumeMean, VolumeSD map[string]float64
	DropMean, DropSD     float64
	VolumeErrorML        float64

	// Sock ply on arrival follows volume: the limb's ply at delivery
	// (PlyMean, PlySD between limbs), PlyPerPct for each percent of volume
	// lost since the cast, PlyPerMonth for the packing of socks and liner,
	// and a normal error PlyErrorSD; rounded to whole ply, at least 0.
	PlyMean, PlySD, PlyPerPct, PlyPerMonth, PlyErrorSD float64

	// Hours worn a day at the visits of a definitive socket are exactly a
	// linear mixed model in months since delivery (of 30.4375 days), with
	// independent random intercept and slope by limb.
	HoursIntercept, HoursPerMonth, HoursInterceptSD, HoursSlopeSD, HoursErrorSD float64

	// Comfort on arrival is linear in ply and level, with a normal person
	// effect and error; rounded to whole points. The scale's ends are too
	// far off to matter.
	ComfortIntercept, ComfortPerPly float64
	ComfortLevel                    map[string]float64 // against transtibial
	ComfortPersonSD, ComfortErrorSD float64

	// SkinChecked is the chance that the skin was looked at; FindingOdds
	// and FindingPerPly give the log odds of a finding when it was.
	SkinChecked, FindingOdds, FindingPerPly float64
}

// Share is a word and its chance, or its hazard per year.
type Share struct {
	Code  string
	Value float64
}

// Words of the log that the truth and the drawing share.
const (
	castHand   = "hand"
	castVacuum = "vacuum"

	kindCheck       = "check"
	kindPreparatory = "preparatory"
	kindDefinitive  = "definitive"

	remakeFor     = "remake: " // before the reason, in the codes
	reasonDied    = "died"
	reasonMoved   = "moved away"
	reasonStopped = "stopped wearing"

	daysPerYear  = 365.25
	daysPerMonth = 30.4375
)

// Known is the truth behind the example. Each call returns a value of its
// own, which may be changed to draw another lab.
func Known() Truth {
	return Truth{
		Opens:       day(2023, time.July, 1),
		Closes:      day(2026, time.June, 30),
		Persons:     180,
		BothSided:   50,
		Established: 0.60,
		Levels: []Share{
			{"transtibial", 0.66}, {"transfemoral", 0.25},
			{"knee disarticulation", 0.05}, {"transradial", 0.04},
		},
		Causes: []Share{
			{"trauma", 0.36}, {"vascular", 0.26}, {"diabetes", 0.22},
			{"infection", 0.06}, {"tumour", 0.05}, {"congenital", 0.05},
		},
		Sites:      []Share{{"Lantern Street", 0.7}, {"Ferry Steps", 0.3}},
		VacuumCast: 0.45,

		Shape:       1.3,
		ScaleDays:   1150,
		LogHRVacuum: math.Log(0.65),
		LogHRFirst:  math.Log(1.8),
		LogHRCause:  map[string]float64{"vascular": math.Log(1.5), "diabetes": math.Log(1.5)},

		EarlyReasons: []Share{
			{remakeFor + "volume loss", 0.46}, {remakeFor + "pain or pressure", 0.20}, {remakeFor + "skin breakdown", 0.09},
			{remakeFor + "casting or measuring error", 0.09}, {remakeFor + "shaping error", 0.08},
			{remakeFor + "suspension", 0.05}, {remakeFor + "fabrication error", 0.03},
		},
		LateReasons: []Share{
			{remakeFor + "breakage or wear", 0.47}, {remakeFor + "weight change", 0.15}, {remakeFor + "volume loss", 0.13},
			{remakeFor + "suspension", 0.10}, {remakeFor + "volume gain", 0.05}, {remakeFor + "alignment or length", 0.05},
			{remakeFor + "pain or pressure", 0.05},
		},
		ReasonTurnDays: 400,
		OutOfUse:       0.12,
		OtherEnds: []Share{
			{"component or activity change", 0.03}, {"preference", 0.02},
			{"lost or stolen", 0.01}, {reasonStopped, 0.02},
		},
		DeathsPerYear: map[string]float64{
			"vascular": 0.09, "diabetes": 0.08, "trauma": 0.012,
			"infection": 0.03, "tumour": 0.05, "congenital": 0.005,
		},
		LossPerYear: 0.05,
		MovedAway:   0.35,

		PracticeChange: day(2025, time.January, 13),
		FirstFitBefore: 0.60,
		FirstFitAfter:  0.80,
		AsIs:           0.55,
		MakeLogMean:    math.Log(26),
		MakeLogSD:      0.2,

		ShrinkPerDay: 1.0 / 110,
		VolumeMean: map[string]float64{
			"transtibial": 1150, "transfemoral": 2900, "knee disarticulation": 3300, "transradial": 620,
		},
		VolumeSD: map[string]float64{
			"transtibial": 160, "transfemoral": 380, "knee disarticulation": 380, "transradial": 70,
		},
		DropMean:      0.34,
		DropSD:        0.07,
		VolumeErrorML: 14,

		PlyMean: 2.6, PlySD: 0.8, PlyPerPct: 0.45, PlyPerMonth: 0.11, PlyErrorSD: 0.9,

		HoursIntercept: 9.2, HoursPerMonth: 0.06,
		HoursInterceptSD: 1.1, HoursSlopeSD: 0.05, HoursErrorSD: 0.8,

		ComfortIntercept: 7.6, ComfortPerPly: -0.22,
		ComfortLevel: map[string]float64{
			"transfemoral": -0.6, "knee disarticulation": -0.2, "transradial": 0.3,
		},
		ComfortPersonSD: 0.5, ComfortErrorSD: 0.8,

		SkinChecked: 0.86, FindingOdds: -2.2, FindingPerPly: 0.09,
	}
}

// LogHR is the log hazard ratio of remake of a definitive socket against the
// baseline described at Truth.Shape.
func (t Truth) LogHR(castMethod, cause string, first bool) float64 {
	lp := t.LogHRCause[cause]
	if castMethod == castVacuum {
		lp += t.LogHRVacuum
	}
	if first {
		lp += t.LogHRFirst
	}
	return lp
}

// Survival is the probability that a definitive socket would not have been
// remade by day days, if nothing else could end it: what Kaplan-Meier
// estimates among sockets with these covariates.
func (t Truth) Survival(castMethod, cause string, first bool, days float64) float64 {
	return math.Exp(-t.cumulative(castMethod, cause, first, days))
}

func (t Truth) cumulative(castMethod, cause string, first bool, days float64) float64 {
	return math.Exp(t.LogHR(castMethod, cause, first)) * math.Pow(days/t.ScaleDays, t.Shape)
}

// Incidence is the probability that a definitive socket has been remade for
// one of the reasons by day days, where the other reasons, the other endings
// and death compete and the person is never lost: what cumulative-incidence
// estimates among sockets with these covariates. It is integrated by
// Simpson's rule over v = (t/days)^(Shape/4), in which the integrand is smooth
// at 0; the error is below 1e-9.
func (t Truth) Incidence(castMethod, cause string, first bool, days float64, reasons ...string) float64 {
	rate := t.otherRate(cause)
	total := t.cumulative(castMethod, cause, first, days)
	return simpson(func(v float64) float64 {
		u := v * v * v * v
		at := days * math.Pow(u, 1/t.Shape)
		share := 0.0
		for _, r := range reasons {
			share += t.ReasonShare(r, at)
		}
		return 4 * v * v * v * total * share * math.Exp(-total*u-rate*at)
	})
}

// ReasonShare is the chance that a remake at day days is for the reason.
func (t Truth) ReasonShare(reason string, days float64) float64 {
	late := days / (t.ReasonTurnDays + days)
	return (1-late)*shareOf(t.EarlyReasons, reason) + late*shareOf(t.LateReasons, reason)
}

// Reasons lists the reasons for which sockets are remade here, each once.
func (t Truth) Reasons() []string {
	var out []string
	seen := map[string]bool{}
	for _, list := range [][]Share{t.EarlyReasons, t.LateReasons} {
		for _, s := range list {
			if !seen[s.Code] {
				seen[s.Code] = true
				out = append(out, s.Code)
			}
		}
	}
	return out
}

func shareOf(list []Share, code string) float64 {
	for _, s := range list {
		if s.Code == code {
			return s.Value
		}
	}
	return 0
}

func day(year int, month time.Month, d int) ingest.Date {
	return ingest.Date(time.Date(year, month, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

func dateOf(d ingest.Date) time.Time { return time.Unix(int64(d)*86400, 0).UTC() }
