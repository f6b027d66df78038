package ingest

// The tissue under a region.
const (
	Bony = "bony"
	Soft = "soft"
)

// Region is a part of the residual limb with what is known of it.
type Region struct {
	Entry
	Tissue    string   // Bony, Soft, or empty where the words do not say
	Tolerant  []string // levels at which it takes pressure
	Sensitive []string // levels at which it does not
}

var (
	tt    = []string{"transtibial"}
	tf    = []string{"transfemoral"}
	kd    = []string{"knee disarticulation"}
	hip   = []string{"hip disarticulation", "transpelvic"}
	tr    = []string{"transradial", "wrist disarticulation"}
	th    = []string{"transhumeral", "elbow disarticulation", "shoulder disarticulation", "scapulothoracic"}
	legs  = []string{"transtibial", "knee disarticulation", "transfemoral"}
	tfHip = []string{"transfemoral", "hip disarticulation", "transpelvic"}
	ttAD  = []string{"transtibial", "ankle disarticulation"}
	ttKD  = []string{"transtibial", "knee disarticulation"}
	feet  = []string{"partial foot", "ankle disarticulation"}
	hands = []string{"partial hand"}
	all   = []string{"partial foot", "ankle disarticulation", "transtibial", "knee disarticulation", "transfemoral", "hip disarticulation", "transpelvic",
		"partial hand", "wrist disarticulation", "transradial", "elbow disarticulation", "transhumeral", "shoulder disarticulation", "scapulothoracic"}
)

// regionList: transtibial core from a secondary source, the rest common
// teaching without one; a lab can overrule both in its intake.
var regionList = []Region{
	// transtibial and knee
	{Entry{Code: "patellar tendon", Synonyms: []string{"patellar ligament", "patella tendon", "mid-patellar tendon", "patellar bar"}, Abbreviations: []string{"PT", "MPT", "PTB"}}, Soft, ttKD, nil},
	{Entry{Code: "medial tibial flare", Synonyms: []string{"medial flare", "medial condylar flare"}, Abbreviations: []string{"MTF"}}, Bony, tt, nil},
	{Entry{Code: "medial tibial shaft", Synonyms: []string{"medial shaft", "medial tibia"}}, Bony, tt, nil},
	{Entry{Code: "pretibial muscles", Synonyms: []string{"anterior compartment", "anterolateral muscles", "pretibial", "tibialis anterior", "anterior muscles"}}, Soft, tt, nil},
	{Entry{Code: "lateral fibular shaft", Synonyms: []string{"fibular shaft", "fibula shaft", "lateral fibula"}}, Bony, tt, nil},
	{Entry{Code: "popliteal area", Synonyms: []string{"popliteal", "popliteal fossa", "behind knee", "back of knee"}, Abbreviations: []string{"pop"}}, Soft, tt, nil},
	{Entry{Code: "posterior compartment", Synonyms: []string{"gastrocnemius", "calf", "gastroc", "posterior muscles"}}, Soft, tt, nil},
	{Entry{Code: "distal end", Synonyms: []string{"end", "stump end", "limb end", "distal", "end of limb", "end of stump", "bottom", "tip"}, Abbreviations: []string{"DE"}}, Soft, kd, ttAD},
	{Entry{Code: "tibial crest", Synonyms: []string{"crest", "crest of tibia", "anterior crest", "shin"}, Abbreviations: []string{"TC"}}, Bony, nil, ttAD},
	{Entry{Code: "tibial tubercle", Synonyms: []string{"tibial tuberosity", "tib tub", "tubercle"}, Abbreviations: []string{"TTub"}}, Bony, nil, tt},
	{Entry{Code: "anterior distal tibia", Synonyms: []string{"distal tibia", "cut end of tibia", "tibial end", "anterior distal tib", "distal anterior tibia", "end of tibia"}, Abbreviations: []string{"ADT", "DAT"}}, Bony, nil, tt},
	{Entry{Code: "distal fibula", Synonyms: []string{"fibula end", "fibular end", "cut end of fibula", "end of fibula"}, Abbreviations: []string{"DF"}}, Bony, nil, tt},
	{Entry{Code: "fibular head", Synonyms: []string{"fibula head", "head of fibula", "fib head", "fibhead"}, Abbreviations: []string{"FH", "fib hd"}}, Bony, nil, tt},
	{Entry{Code: "common peroneal nerve", Synonyms: []string{"peroneal nerve", "fibular nerve", "common fibular nerve"}, Abbreviations: []string{"CPN"}}, Soft, nil, tt},
	{Entry{Code: "patella", Synonyms: []string{"knee cap", "kneecap", "inferior patella", "patellar pole"}, Abbreviations: []string{"pat"}}, Bony, nil, ttKD},
	{Entry{Code: "lateral tibial condyle", Synonyms: []string{"lateral flare", "lateral tibial flare", "lateral flare edge"}}, Bony, nil, tt},
	{Entry{Code: "medial femoral condyle", Synonyms: []string{"medial condyle", "med condyle", "medial supracondylar"}, Abbreviations: []string{"MFC"}}, Bony, nil, ttKD},
	{Entry{Code: "lateral femoral condyle", Synonyms: []string{"lateral condyle", "lat condyle", "lateral supracondylar"}, Abbreviations: []string{"LFC"}}, Bony, nil, ttKD},
	{Entry{Code: "adductor tubercle", Synonyms: []string{"add tubercle"}}, Bony, nil, ttKD},
	{Entry{Code: "medial hamstring", Synonyms: []string{"medial hamstring tendon", "medial hamstrings", "med hamstring"}}, Soft, nil, tt},
	{Entry{Code: "lateral hamstring", Synonyms: []string{"lateral hamstring tendon", "lateral hamstrings", "lat hamstring"}}, Soft, nil, tt},
	{Entry{Code: "hamstrings", Synonyms: []string{"hamstring", "hamstring tendons", "hamstring tendon"}, Abbreviations: []string{"HS"}}, Soft, nil, legs},
	// transfemoral and pelvis
	{Entry{Code: "ischial tuberosity", Synonyms: []string{"ischium", "ischial", "IT seat", "sit bone"}, Abbreviations: []string{"IT"}}, Bony, tfHip, nil},
	{Entry{Code: "ischial ramus", Synonyms: []string{"ramus", "medial ramus"}, Abbreviations: []string{"IR"}}, Bony, tf, nil},
	{Entry{Code: "gluteal muscles", Synonyms: []string{"gluteal", "gluteus", "glutes", "buttock"}}, Soft, tfHip, nil},
	{Entry{Code: "lateral femoral shaft", Synonyms: []string{"lateral femur", "femoral shaft", "lateral shaft"}}, Bony, tf, nil},
	{Entry{Code: "femoral triangle", Synonyms: []string{"Scarpa's triangle", "Scarpas triangle", "Scarpa", "Scarpa triangle"}}, Soft, tf, nil},
	{Entry{Code: "posterior thigh", Synonyms: []string{"back of thigh"}}, Soft, tf, nil},
	{Entry{Code: "perineum", Synonyms: []string{"perineal", "groin", "crotch"}}, Soft, nil, tfHip},
	{Entry{Code: "pubic ramus", Synonyms: []string{"pubis", "pubic symphysis", "pubic bone", "symphysis"}}, Bony, nil, tfHip},
	{Entry{Code: "adductor longus tendon", Synonyms: []string{"adductor longus", "adductor tendon"}, Abbreviations: []string{"AL"}}, Soft, nil, tf},
	{Entry{Code: "adductor roll", Synonyms: []string{"medial roll", "medial proximal tissue"}}, Soft, nil, tf},
	{Entry{Code: "anterior superior iliac spine", Synonyms: []string{"iliac spine"}, Abbreviations: []string{"ASIS"}}, Bony, nil, tfHip},
	{Entry{Code: "greater trochanter", Synonyms: []string{"trochanter", "troch"}, Abbreviations: []string{"GT"}}, Bony, nil, tfHip},
	{Entry{Code: "distal lateral femur", Synonyms: []string{"lateral distal femur"}, Abbreviations: []string{"DLF", "LDF"}}, Bony, nil, tf},
	{Entry{Code: "distal anterior femur", Synonyms: []string{"anterior distal femur", "distal femur", "end of femur", "femur end"}, Abbreviations: []string{"DAF"}}, Bony, nil, tf},
	{Entry{Code: "rectus femoris", Synonyms: []string{"rectus"}, Abbreviations: []string{"RF"}}, Soft, nil, tf},
	{Entry{Code: "femoral vessels", Synonyms: []string{"femoral nerve", "femoral artery"}}, Soft, nil, tf},
	{Entry{Code: "inguinal ligament", Synonyms: []string{"inguinal", "inguinal crease"}}, Soft, nil, tf},
	{Entry{Code: "gluteal fold", Synonyms: []string{"gluteal crease"}}, Soft, nil, tf},
	{Entry{Code: "iliac crest", Synonyms: []string{"crest of ilium"}}, Bony, nil, hip},
	{Entry{Code: "posterior superior iliac spine", Abbreviations: []string{"PSIS"}}, Bony, nil, hip},
	{Entry{Code: "sacrum", Synonyms: []string{"sacral", "coccyx"}}, Bony, nil, hip},
	{Entry{Code: "ribs", Synonyms: []string{"rib", "costal margin", "thorax"}}, Bony, nil, hip},
	// ankle and foot
	{Entry{Code: "malleoli", Synonyms: []string{"malleolus", "medial malleolus", "lateral malleolus"}}, Bony, nil, feet},
	{Entry{Code: "heel pad", Synonyms: []string{"heel"}}, Soft, feet, nil},
	// arm
	{Entry{Code: "olecranon", Synonyms: []string{"elbow point", "elbow tip"}}, Bony, nil, tr},
	{Entry{Code: "medial epicondyle", Synonyms: []string{"med epicondyle"}}, Bony, nil, tr},
	{Entry{Code: "lateral epicondyle", Synonyms: []string{"lat epicondyle"}}, Bony, nil, tr},
	{Entry{Code: "cubital fold", Synonyms: []string{"antecubital", "antecubital fossa", "elbow crease", "cubital"}}, Soft, nil, tr},
	{Entry{Code: "biceps tendon", Synonyms: []string{"biceps"}}, Soft, nil, tr},
	{Entry{Code: "radial head", Synonyms: []string{"head of radius"}}, Bony, nil, tr},
	{Entry{Code: "ulnar nerve groove", Synonyms: []string{"ulnar nerve", "ulnar groove"}}, Soft, nil, tr},
	{Entry{Code: "distal radius", Synonyms: []string{"end of radius", "radius end"}}, Bony, nil, tr},
	{Entry{Code: "distal ulna", Synonyms: []string{"end of ulna", "ulna end", "ulnar end"}}, Bony, nil, tr},
	{Entry{Code: "ulnar crest", Synonyms: []string{"ulna crest", "ulnar border"}}, Bony, nil, tr},
	{Entry{Code: "volar forearm", Synonyms: []string{"anterior forearm"}}, Soft, tr, nil},
	{Entry{Code: "dorsal forearm", Synonyms: []string{"posterior forearm"}}, Soft, tr, nil},
	{Entry{Code: "triceps bar", Synonyms: []string{"triceps"}}, Soft, tr, nil},
	{Entry{Code: "acromion", Synonyms: []string{"acromial"}}, Bony, nil, th},
	{Entry{Code: "clavicle", Synonyms: []string{"collar bone", "collarbone"}}, Bony, nil, th},
	{Entry{Code: "coracoid", Synonyms: []string{"coracoid process"}}, Bony, nil, th},
	{Entry{Code: "axilla", Synonyms: []string{"armpit", "axillary"}}, Soft, nil, th},
	{Entry{Code: "axillary fold", Synonyms: []string{"axillary crease"}}, Soft, nil, th},
	{Entry{Code: "deltopectoral groove", Synonyms: []string{"deltopectoral"}}, Soft, nil, th},
	{Entry{Code: "spine of scapula", Synonyms: []string{"scapula", "scapular spine", "shoulder blade"}}, Bony, nil, th},
	{Entry{Code: "distal humerus", Synonyms: []string{"end of humerus", "humerus end"}}, Bony, nil, th},
	{Entry{Code: "other axilla", Synonyms: []string{"contralateral axilla", "harness", "harness strap"}}, Soft, nil, append(append([]string(nil), th...), tr...)},
	{Entry{Code: "thumb web", Synonyms: []string{"web space", "first web"}}, Soft, nil, hands},
	// any level
	{Entry{Code: "scar", Synonyms: []string{"suture line", "scar line", "incision", "suture", "skin graft"}}, Soft, nil, all},
	{Entry{Code: "neuroma", Synonyms: []string{"neuroma site"}}, Soft, nil, all},
	{Entry{Code: "posterior brim", Synonyms: []string{"posterior trim line", "back brim", "posterior trimline", "posterior shelf"}}, Soft, nil, legs},
	{Entry{Code: "anterior brim", Synonyms: []string{"anterior trim line", "front brim", "anterior trimline"}}, "", nil, nil},
	{Entry{Code: "medial brim", Synonyms: []string{"medial trim line", "medial trimline"}}, "", nil, nil},
	{Entry{Code: "lateral brim", Synonyms: []string{"lateral trim line", "lateral trimline"}}, "", nil, nil},
	{Entry{Code: "brim", Synonyms: []string{"trim line", "trimline", "trim lines", "socket brim", "proximal brim"}}, "", nil, nil},
	{Entry{Code: "anterior proximal", Synonyms: []string{"proximal anterior"}, Abbreviations: []string{"ant prox"}}, "", nil, nil},
	{Entry{Code: "anterior mid", Synonyms: []string{"mid anterior", "anterior", "front"}, Abbreviations: []string{"ant", "ant mid"}}, "", nil, nil},
	{Entry{Code: "anterior distal", Synonyms: []string{"distal anterior"}, Abbreviations: []string{"ant dist", "AD"}}, "", nil, nil},
	{Entry{Code: "posterior proximal", Synonyms: []string{"proximal posterior"}, Abbreviations: []string{"post prox"}}, "", nil, nil},
	{Entry{Code: "posterior mid", Synonyms: []string{"mid posterior", "posterior", "back"}, Abbreviations: []string{"post", "post mid"}}, "", nil, nil},
	{Entry{Code: "posterior distal", Synonyms: []string{"distal posterior"}, Abbreviations: []string{"post dist"}}, "", nil, nil},
	{Entry{Code: "medial proximal", Synonyms: []string{"proximal medial"}, Abbreviations: []string{"med prox"}}, "", nil, nil},
	{Entry{Code: "medial mid", Synonyms: []string{"mid medial", "medial"}, Abbreviations: []string{"med", "med mid"}}, "", nil, nil},
	{Entry{Code: "medial distal", Synonyms: []string{"distal medial"}, Abbreviations: []string{"med dist"}}, "", nil, nil},
	{Entry{Code: "lateral proximal", Synonyms: []string{"proximal lateral"}, Abbreviations: []string{"lat prox"}}, "", nil, nil},
	{Entry{Code: "lateral mid", Synonyms: []string{"mid lateral", "lateral"}, Abbreviations: []string{"lat", "lat mid"}}, "", nil, nil},
	{Entry{Code: "lateral distal", Synonyms: []string{"distal lateral"}, Abbreviations: []string{"lat dist"}}, "", nil, nil},
	{Entry{Code: "whole limb", Synonyms: []string{"all over", "general", "generalised", "generalized", "diffuse", "whole", "entire limb", "everywhere"}}, "", nil, nil},
	{Entry{Code: "none", Synonyms: []string{"nowhere", "no region", "all clear", "nothing"}, Abbreviations: []string{"nil"}}, "", nil, nil},
	{Entry{Code: "other", Synonyms: []string{"others", "elsewhere"}}, "", nil, nil},
}

var regions = regionVocabulary()

func regionVocabulary() Vocabulary {
	entries := make([]Entry, len(regionList))
	for i, r := range regionList {
		entries[i] = r.Entry
	}
	return newVocabulary("region", nil, entries...)
}

// RegionWords is the vocabulary of regions over all levels.
func RegionWords() Vocabulary { return regions }

// RegionByCode returns a region; ok is false for an unknown code.
func RegionByCode(code string) (r Region, ok bool) {
	for _, r := range regionList {
		if r.Code == code {
			return r, true
		}
	}
	return Region{}, false
}
