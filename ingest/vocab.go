package ingest

// The vocabularies of the log in one place. Codes are what other packages
// compare with; the words beside them are what people write. Terms follow
// ISO 8549-4 (levels) and common clinical usage; a lab's further words belong
// in its intake, not here.

var levels = newVocabulary("level", map[string]string{
	"bilateral": "write one row for each limb",
},
	Entry{Code: "partial foot", Synonyms: []string{"transmetatarsal", "Chopart", "Lisfranc", "ray amputation", "toe amputation", "phalangeal foot", "metatarsal", "tarsal", "forefoot"}, Abbreviations: []string{"PF", "PFA", "TMA"}},
	Entry{Code: "ankle disarticulation", Synonyms: []string{"Syme", "Symes", "Syme's", "through ankle"}, Abbreviations: []string{"AD"}},
	Entry{Code: "transtibial", Synonyms: []string{"trans-tibial", "below knee", "below the knee", "transtibial amputation", "below knee amputation"}, Abbreviations: []string{"TT", "TTA", "BK", "BKA", "B/K"}},
	Entry{Code: "knee disarticulation", Synonyms: []string{"through knee", "thru knee", "Gritti-Stokes", "knee disartic", "knee disart"}, Abbreviations: []string{"KD", "KDA", "TK", "TKA"}},
	Entry{Code: "transfemoral", Synonyms: []string{"trans-femoral", "above knee", "above the knee", "transfemoral amputation", "above knee amputation"}, Abbreviations: []string{"TF", "TFA", "AK", "AKA", "A/K"}},
	Entry{Code: "hip disarticulation", Synonyms: []string{"hip disartic", "hip disart", "through hip"}, Abbreviations: []string{"HD", "HDA"}},
	Entry{Code: "transpelvic", Synonyms: []string{"hemipelvectomy", "hemi-pelvectomy", "hindquarter"}, Abbreviations: []string{"HP", "TP"}},
	Entry{Code: "partial hand", Synonyms: []string{"transcarpal", "transmetacarpal", "thumb", "finger", "phalangeal hand", "metacarpal", "carpal"}, Abbreviations: []string{"PH"}},
	Entry{Code: "wrist disarticulation", Synonyms: []string{"wrist disartic", "wrist disart", "through wrist"}, Abbreviations: []string{"WD"}},
	Entry{Code: "transradial", Synonyms: []string{"trans-radial", "below elbow", "below the elbow"}, Abbreviations: []string{"TR", "TRA", "BE", "B/E"}},
	Entry{Code: "elbow disarticulation", Synonyms: []string{"elbow disartic", "elbow disart", "through elbow"}, Abbreviations: []string{"ED"}},
	Entry{Code: "transhumeral", Synonyms: []string{"trans-humeral", "above elbow", "above the elbow"}, Abbreviations: []string{"TH", "THA", "AE", "A/E"}},
	Entry{Code: "shoulder disarticulation", Synonyms: []string{"shoulder disartic", "shoulder disart", "through shoulder"}, Abbreviations: []string{"SD"}},
	Entry{Code: "scapulothoracic", Synonyms: []string{"forequarter", "interscapulothoracic", "scapulo-thoracic"}, Abbreviations: []string{"FQ", "IST"}},
	Entry{Code: "lower limb", Released: true},
	Entry{Code: "upper limb", Released: true},
	Entry{Code: "level not given", Released: true},
)

var causes = newVocabulary("cause", nil,
	Entry{Code: "vascular", Synonyms: []string{"arterial", "ischaemia", "ischemia", "ischaemic", "ischemic", "dysvascular", "peripheral vascular disease", "peripheral arterial disease", "vascular disease", "gangrene"}, Abbreviations: []string{"PVD", "PAD", "PAOD", "vasc", "CLI", "CLTI"}},
	Entry{Code: "diabetes", Synonyms: []string{"diabetic", "diabetes mellitus", "diabetic foot"}, Abbreviations: []string{"DM", "DM2", "T2DM", "T1DM", "diab"}},
	Entry{Code: "trauma", Synonyms: []string{"traumatic", "accident", "injury", "road traffic accident", "crush", "burn", "blast", "frostbite", "electrical burn"}, Abbreviations: []string{"RTA", "RTC", "MVA", "MVC", "TRA", "traum"}},
	Entry{Code: "infection", Synonyms: []string{"infected", "osteomyelitis", "sepsis", "necrotising fasciitis", "necrotizing fasciitis", "meningococcal", "infected joint replacement"}, Abbreviations: []string{"inf", "OM"}},
	Entry{Code: "tumour", Synonyms: []string{"tumor", "cancer", "sarcoma", "osteosarcoma", "malignancy", "neoplasm", "oncology"}, Abbreviations: []string{"ca", "onc"}},
	Entry{Code: "congenital", Synonyms: []string{"congenital deficiency", "limb deficiency", "birth", "from birth", "dysmelia"}, Abbreviations: []string{"cong", "PFFD"}},
	Entry{Code: "neurological", Synonyms: []string{"neurologic", "neuropathic", "neuropathy", "Charcot", "spina bifida", "complex regional pain syndrome"}, Abbreviations: []string{"neuro", "CRPS"}},
	Entry{Code: "other", Synonyms: []string{"others"}},
)

var sides = newVocabulary("side", map[string]string{
	"both": "write one row for each limb", "bilateral": "write one row for each limb", "bilat": "write one row for each limb",
	"L+R": "write one row for each limb", "L/R": "write one row for each limb", "R/L": "write one row for each limb", "b/l": "write one row for each limb",
},
	Entry{Code: "left", Synonyms: []string{"left side", "sinister", "left leg", "left arm"}, Abbreviations: []string{"L", "LT", "Lft", "LHS"}},
	Entry{Code: "right", Synonyms: []string{"right side", "dexter", "right leg", "right arm"}, Abbreviations: []string{"R", "RT", "Rgt", "RHS"}},
	Entry{Code: "side not given", Released: true},
)

var sexes = newVocabulary("sex", nil,
	Entry{Code: "female", Synonyms: []string{"woman", "girl"}, Abbreviations: []string{"F", "fem", "W"}},
	Entry{Code: "male", Synonyms: []string{"man", "boy"}, Abbreviations: []string{"M"}},
	Entry{Code: "other", Synonyms: []string{"non-binary", "nonbinary", "diverse", "intersex"}, Abbreviations: []string{"X", "NB", "O"}},
)

var activities = newVocabulary("activity", nil,
	Entry{Code: "K0", Synonyms: []string{"K level 0", "level 0", "MFCL 0"}, Abbreviations: []string{"0"}},
	Entry{Code: "K1", Synonyms: []string{"K level 1", "level 1", "MFCL 1", "household"}, Abbreviations: []string{"1"}},
	Entry{Code: "K2", Synonyms: []string{"K level 2", "level 2", "MFCL 2", "limited community"}, Abbreviations: []string{"2"}},
	Entry{Code: "K3", Synonyms: []string{"K level 3", "level 3", "MFCL 3", "community"}, Abbreviations: []string{"3"}},
	Entry{Code: "K4", Synonyms: []string{"K level 4", "level 4", "MFCL 4", "high activity"}, Abbreviations: []string{"4"}},
)

var kinds = newVocabulary("kind of socket", nil,
	Entry{Code: "check", Synonyms: []string{"check socket", "diagnostic", "diagnostic socket", "test", "test socket", "trial", "trial socket", "clear check"}, Abbreviations: []string{"chk", "diag", "CS", "C", "TS"}},
	Entry{Code: "preparatory", Synonyms: []string{"preparatory socket", "temporary", "interim", "provisional", "initial"}, Abbreviations: []string{"prep", "temp", "P"}},
	Entry{Code: "definitive", Synonyms: []string{"definitive socket", "final", "permanent", "definite", "finished"}, Abbreviations: []string{"def", "D", "perm"}},
)

var uses = newVocabulary("use", nil,
	Entry{Code: "everyday", Synonyms: []string{"every day", "daily", "main", "primary", "day to day", "normal"}, Abbreviations: []string{"ev", "E"}},
	Entry{Code: "spare", Synonyms: []string{"backup", "back-up", "second", "reserve"}},
	Entry{Code: "water", Synonyms: []string{"shower", "swim", "swimming", "wet", "beach", "bath", "water leg", "shower leg"}},
	Entry{Code: "sport", Synonyms: []string{"sports", "running", "blade", "running blade", "cycling", "ski"}},
)

var shapeMethods = newVocabulary("shape method", nil,
	Entry{Code: "hand", Synonyms: []string{"plaster", "by hand", "manual", "hand modified", "hand rectified", "conventional", "traditional"}},
	Entry{Code: "digital", Synonyms: []string{"computer", "carved", "scan", "scanned", "CAD/CAM", "milled", "printed"}, Abbreviations: []string{"CAD", "CAM", "dig"}},
	Entry{Code: "other", Synonyms: []string{"direct lamination", "direct socket", "pressure cast"}},
)

var endReasons = newVocabulary("reason for the end", nil,
	Entry{Code: "remake: volume loss", Synonyms: []string{"volume loss", "loss of volume", "shrinkage", "limb shrunk", "limb shrank", "residual limb shrinkage", "limb volume loss", "volume reduction", "atrophy", "lost volume", "vol loss", "remake volume loss"}, Abbreviations: []string{"VL", "vol -"}, Doubtful: []string{"too loose", "loose", "too big", "socket too big", "socket loose", "socket too loose", "too many socks", "volume change", "volume", "fit"}},
	Entry{Code: "remake: volume gain", Synonyms: []string{"volume gain", "gain of volume", "limb swelling", "vol gain", "remake volume gain", "gained volume"}, Abbreviations: []string{"VG"}, Doubtful: []string{"too tight", "tight", "too small", "socket too tight", "socket too small", "swelling", "oedema", "edema"}},
	Entry{Code: "remake: weight change", Synonyms: []string{"weight change", "weight gain", "weight loss", "gained weight", "lost weight", "remake weight change"}},
	Entry{Code: "remake: pain or pressure", Synonyms: []string{"pain or pressure", "pain", "pressure", "painful", "discomfort", "pressure pain", "uncomfortable", "pain/pressure", "remake pain"}},
	Entry{Code: "remake: skin breakdown", Synonyms: []string{"skin breakdown", "skin break down", "ulcer", "wound", "skin", "skin problem", "skin problems", "sore", "sores", "blister", "blisters", "remake skin"}},
	Entry{Code: "remake: breakage or wear", Synonyms: []string{"breakage or wear", "breakage", "broken", "broke", "crack", "cracked", "worn out", "wear", "worn", "delamination", "delaminated", "fatigue", "brim crack", "breakage/wear", "remake breakage"}},
	Entry{Code: "remake: suspension", Synonyms: []string{"suspension", "suspension loss", "suspension problem", "lost suspension", "loss of suspension", "liner change", "pistoning", "remake suspension"}, Abbreviations: []string{"susp"}},
	Entry{Code: "remake: growth", Synonyms: []string{"growth", "grown", "grew", "outgrown", "child growth", "remake growth"}},
	Entry{Code: "remake: casting or measuring error", Synonyms: []string{"casting or measuring error", "casting error", "cast error", "measuring error", "measurement error", "scan error", "bad cast", "poor cast", "remake casting"}},
	Entry{Code: "remake: shaping error", Synonyms: []string{"shaping error", "rectification error", "modification error", "model error", "over reduced", "under reduced", "carving error", "remake shaping"}},
	Entry{Code: "remake: fabrication error", Synonyms: []string{"fabrication error", "fab error", "lamination error", "forming error", "manufacturing error", "workshop error", "thin spot", "remake fabrication"}},
	Entry{Code: "remake: alignment or length", Synonyms: []string{"alignment or length", "alignment", "length", "alignment not correctable", "leg length", "too long", "too short", "remake alignment"}},
	Entry{Code: "remake: revision surgery", Synonyms: []string{"revision surgery", "revision", "surgical revision", "stump revision", "re-amputation", "reamputation", "limb revision", "shape change after surgery", "remake revision"}},
	Entry{Code: "component or activity change", Synonyms: []string{"component change", "activity change", "change of component", "change of activity", "new foot", "new knee", "K level change", "design change", "upgrade", "component incompatibility", "recall", "bone-anchored", "osseointegration"}, Abbreviations: []string{"OI"}},
	Entry{Code: "preference", Synonyms: []string{"person's preference", "patient preference", "user preference", "patient choice", "patient request", "cosmesis", "choice"}, Abbreviations: []string{"pref"}},
	Entry{Code: "planned step", Synonyms: []string{"planned", "check to definitive", "preparatory to definitive", "to definitive", "definitive made", "planned replacement", "prep to def", "went to definitive", "next step"}},
	Entry{Code: "lost or stolen", Synonyms: []string{"stolen", "socket lost", "lost socket", "lost leg", "limb lost", "theft", "mislaid"}, Doubtful: []string{"lost"}},
	Entry{Code: "lost to follow-up", Synonyms: []string{"lost to follow up", "lost to followup", "not seen since", "no contact"}, Abbreviations: []string{"LTFU", "LFU", "DNA"}},
	Entry{Code: "moved away", Synonyms: []string{"moved", "transferred", "moved provider", "other clinic", "moved centre", "moved center", "transfer out", "relocated"}},
	Entry{Code: "stopped wearing", Synonyms: []string{"not wearing", "non-user", "abandoned", "does not wear", "gave up", "rejected", "wheelchair only", "stopped"}},
	Entry{Code: "died", Synonyms: []string{"death", "deceased", "dead", "passed away"}, Abbreviations: []string{"RIP"}},
	Entry{Code: "other", Synonyms: []string{"others", "misc"}},
	Entry{Code: "unknown", Synonyms: []string{"not known", "not recorded", "no reason given", "reason unknown", "not stated", "don't know", "n/k"}, Abbreviations: []string{"?", "??", "UNK", "NK", "NR"}},
)

var findings = newVocabulary("finding", nil,
	Entry{Code: "none", Synonyms: []string{"nothing", "no findings", "no finding", "clear", "skin clear", "intact", "skin intact", "skin ok", "normal", "all clear", "no problems"}, Abbreviations: []string{"OK", "NAD", "nil", "0", "no"}},
	Entry{Code: "redness fading", Synonyms: []string{"fading redness", "redness blanching", "blanching redness", "redness blanches", "blanching", "blanchable", "redness fades", "red fades", "fades", "blanching erythema", "transient redness"}},
	Entry{Code: "redness persisting", Synonyms: []string{"persisting redness", "persistent redness", "redness persistent", "redness non-blanching", "non-blanching redness", "non-blanching", "nonblanchable", "red not fading", "redness not fading", "redness stays", "non-blanching erythema"}},
	Entry{Code: "pain", Synonyms: []string{"painful", "tender", "tenderness", "sore to touch", "hurts", "neuroma", "neuroma pain", "pressure pain"}},
	Entry{Code: "bruise", Synonyms: []string{"bruising", "bruised", "haematoma", "hematoma", "ecchymosis"}},
	Entry{Code: "callus", Synonyms: []string{"callous", "callosity", "hard skin", "thickened skin", "lichenification"}},
	Entry{Code: "blister", Synonyms: []string{"blisters", "blistering", "blistered", "bulla"}},
	Entry{Code: "abrasion", Synonyms: []string{"abraded", "graze", "grazed", "rub", "rubbed", "rubbing", "friction", "chafing", "scrape", "raw", "skin tear"}},
	Entry{Code: "ulcer", Synonyms: []string{"ulcers", "ulceration", "open wound", "open area", "wound", "skin breakdown", "breakdown", "pressure sore", "pressure ulcer", "pressure injury"}, Doubtful: []string{"sore"}},
	Entry{Code: "rash", Synonyms: []string{"contact dermatitis", "dermatitis", "heat rash", "eczema", "allergic", "itchy rash", "prickly heat", "fungal", "tinea"}},
	Entry{Code: "cyst", Synonyms: []string{"cysts", "inclusion cyst", "epidermoid cyst", "sebaceous cyst", "epidermal cyst"}},
	Entry{Code: "folliculitis", Synonyms: []string{"follicles", "ingrown hair", "ingrown hairs", "boil", "boils", "furuncle", "pimples", "spots"}},
	Entry{Code: "swelling at the end", Synonyms: []string{"distal swelling", "distal oedema", "distal edema", "choke", "choking", "choke syndrome", "end swelling", "swollen end", "swelling distally", "distal end oedema", "distal end edema"}, Doubtful: []string{"swelling", "oedema", "edema", "swollen"}},
	Entry{Code: "other", Synonyms: []string{"others", "maceration", "macerated", "abscess", "cellulitis", "verrucous hyperplasia", "hyperhidrosis", "sweating", "adductor roll", "scar adhesion", "numbness", "numb", "phantom pain", "pistoning", "rotation", "gapping", "bell-clapping", "loss of total contact", "bottoming out", "too tight", "too loose", "suspension loss", "noise", "air leak"}, Doubtful: []string{"redness", "red", "erythema", "red mark", "red area", "red spot"}},
)

var purposes = newVocabulary("purpose of the visit", nil,
	Entry{Code: "check fitting", Synonyms: []string{"check", "fitting", "check socket fitting", "diagnostic fitting", "test fitting", "trial fitting", "socket check", "trial"}, Abbreviations: []string{"CF", "chk fit"}},
	Entry{Code: "delivery", Synonyms: []string{"delivered", "supply", "handover", "hand over", "fit and deliver", "definitive fitting", "issue"}, Abbreviations: []string{"del"}},
	Entry{Code: "follow-up", Synonyms: []string{"follow up", "followup", "review", "planned review", "routine", "check-up", "checkup", "planned"}, Abbreviations: []string{"FU", "F/U", "rev"}},
	Entry{Code: "walk-in", Synonyms: []string{"walk in", "walkin", "unplanned", "unscheduled", "drop in", "drop-in", "urgent", "emergency"}, Abbreviations: []string{"WI"}},
)

var accepteds = newVocabulary("accepted", nil,
	Entry{Code: "yes", Synonyms: []string{"accepted", "good", "pass", "passed", "fits", "go to definitive"}, Abbreviations: []string{"Y", "OK", "1", "true", "✓", "✔", "x"}},
	Entry{Code: "adjusted", Synonyms: []string{"yes after adjustment", "accepted after adjustment", "with adjustment", "after changes", "yes with changes", "adjust", "minor adjustment", "modified", "yes adjusted"}, Abbreviations: []string{"adj"}},
	Entry{Code: "no", Synonyms: []string{"rejected", "fail", "failed", "not accepted", "new check socket", "remake", "recast", "reject"}, Abbreviations: []string{"N", "0", "false", "✗", "✘"}},
)

var yesNo = newVocabulary("yes or no", nil,
	Entry{Code: "yes", Synonyms: []string{"done", "checked", "true", "seen", "looked", "looked at", "examined", "inspected", "ticked", "yep", "yup", "yeah", "aye"}, Abbreviations: []string{"Y", "T", "1", "x", "+", "✓", "✔", "☑", "☒", "OK"}},
	Entry{Code: "no", Synonyms: []string{"not done", "not checked", "false", "not seen", "not looked at", "not examined", "not inspected", "unchecked", "declined", "refused", "nope"}, Abbreviations: []string{"N", "F", "0", "✗", "✘", "☐"}},
)

var overs = newVocabulary("layer measured over", nil,
	Entry{Code: "skin", Synonyms: []string{"bare", "bare skin", "bare limb", "directly", "on skin"}, Abbreviations: []string{"S"}},
	Entry{Code: "liner", Synonyms: []string{"over liner", "gel liner", "silicone liner", "gel"}, Abbreviations: []string{"L", "lin"}},
	Entry{Code: "sock", Synonyms: []string{"over sock", "casting sock", "cast sock", "over casting sock", "stockinette", "socks"}},
)

var actions = newVocabulary("action", nil,
	Entry{Code: "heat relief", Synonyms: []string{"heat", "heated", "heat gun", "hot air", "relief heated", "spot heat", "blown out", "flared", "relief"}},
	Entry{Code: "ground", Synonyms: []string{"grind", "grinding", "ground out", "ground relief", "sanded", "buffed", "trimmed inside"}},
	Entry{Code: "pad added", Synonyms: []string{"pad", "padding", "padded", "added pad", "pads added", "pads", "foam pad", "tongue pad"}},
	Entry{Code: "trim line lowered", Synonyms: []string{"trim lowered", "trim line", "trimline lowered", "trimline", "trimmed", "trim", "lowered trim line", "lowered brim", "brim lowered", "cut down", "trim lines lowered"}},
	Entry{Code: "reline", Synonyms: []string{"relined", "refit", "refitted", "socket reline", "relining", "replaced liner pad"}},
	Entry{Code: "sock advice", Synonyms: []string{"socks", "sock", "socks added", "added sock", "added socks", "add sock", "sock ply changed", "sock management", "ply advice", "socks advice", "sock education", "socks given"}},
	Entry{Code: "alignment", Synonyms: []string{"aligned", "realigned", "realignment", "alignment changed", "align", "alignment adjusted", "length adjusted"}, Abbreviations: []string{"align"}},
	Entry{Code: "suspension", Synonyms: []string{"suspension changed", "new sleeve", "sleeve", "sleeve replaced", "valve", "valve replaced", "pin", "lock", "lock replaced", "new liner", "strap"}, Abbreviations: []string{"susp"}},
	Entry{Code: "recast", Synonyms: []string{"re-cast", "cast", "cast again", "new cast", "rescanned", "remake", "remake ordered", "new socket", "new socket ordered"}},
	Entry{Code: "referred", Synonyms: []string{"refer", "referral", "referred to doctor", "referred to physician", "referred to wound clinic", "wound clinic", "to GP", "GP"}, Abbreviations: []string{"ref"}},
	Entry{Code: "none", Synonyms: []string{"nothing", "no action", "no change", "no changes", "nothing done", "nothing needed"}, Abbreviations: []string{"nil", "0", "OK", "no"}},
	Entry{Code: "other", Synonyms: []string{"others", "misc", "repair", "repaired", "cleaned"}},
)

// Levels is the vocabulary of amputation levels.
func Levels() Vocabulary { return levels }

// Causes is the vocabulary of causes of amputation.
func Causes() Vocabulary { return causes }

// Sides is the vocabulary of sides: left, right.
func Sides() Vocabulary { return sides }

// Sexes is the vocabulary of sex.
func Sexes() Vocabulary { return sexes }

// Activities is the vocabulary of activity, K0 to K4.
func Activities() Vocabulary { return activities }

// Kinds is the vocabulary of kinds of socket.
func Kinds() Vocabulary { return kinds }

// Uses is the vocabulary of what a socket is for.
func Uses() Vocabulary { return uses }

// ShapeMethods is the vocabulary of how a model is shaped.
func ShapeMethods() Vocabulary { return shapeMethods }

// EndReasons is the vocabulary of reasons for which a socket's life ends.
func EndReasons() Vocabulary { return endReasons }

// FindingWords is the vocabulary of findings on the skin.
func FindingWords() Vocabulary { return findings }

// Purposes is the vocabulary of purposes of a visit.
func Purposes() Vocabulary { return purposes }

// AcceptedWords is the vocabulary of a check fitting's outcome.
func AcceptedWords() Vocabulary { return accepteds }

// YesNo is the vocabulary of yes and no.
func YesNo() Vocabulary { return yesNo }

// Overs is the vocabulary of layers a girth is taken over.
func Overs() Vocabulary { return overs }

// Actions is the vocabulary of what is done at a visit.
func Actions() Vocabulary { return actions }

// The named sets of end reasons.
const (
	SetRemake     = "remake"      // the thirteen reasons for a remake
	SetMaking     = "making"      // errors in casting, shaping or fabrication
	SetLimbChange = "limb-change" // volume, weight, growth, surgery
	SetUntraced   = "untraced"    // the person can no longer be followed
)

// EndReasonSets returns the names of the sets of end reasons, in order.
func EndReasonSets() []string { return []string{SetRemake, SetMaking, SetLimbChange, SetUntraced} }

// EndReasonSet returns the codes of a named set of end reasons, in the
// vocabulary's order; nil for an unknown name.
func EndReasonSet(name string) []string {
	switch name {
	case SetRemake:
		var out []string
		for _, e := range endReasons.entries {
			if len(e.Code) > 7 && e.Code[:7] == "remake:" {
				out = append(out, e.Code)
			}
		}
		return out
	case SetMaking:
		return []string{"remake: casting or measuring error", "remake: shaping error", "remake: fabrication error"}
	case SetLimbChange:
		return []string{"remake: volume loss", "remake: volume gain", "remake: weight change", "remake: growth", "remake: revision surgery"}
	case SetUntraced:
		return []string{"lost to follow-up", "moved away", "unknown"}
	}
	return nil
}
