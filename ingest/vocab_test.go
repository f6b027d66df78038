package ingest

import (
	"slices"
	"testing"
)

var allVocabularies = []Vocabulary{Levels(), Causes(), Sides(), Sexes(), Activities(), Kinds(), Uses(), ShapeMethods(), EndReasons(), FindingWords(), Purposes(), AcceptedWords(), YesNo(), Overs(), Actions(), RegionWords()}

func TestVocabularyWordsMeanOneCode(t *testing.T) {
	for _, v := range allVocabularies {
		owner := map[string]string{}
		for _, e := range v.Entries() {
			words := append([]string{e.Code}, e.Synonyms...)
			words = append(append(words, e.Abbreviations...), e.Doubtful...)
			for _, w := range words {
				k := wordKey(w)
				if prior, ok := owner[k]; ok && prior != e.Code {
					t.Errorf("%s: %q means both %q and %q", v.Name(), w, prior, e.Code)
				}
				owner[k] = e.Code
			}
			if m := v.Lookup(e.Code); m.Code != e.Code || m.How != Exact {
				t.Errorf("%s: the code %q reads as %+v", v.Name(), e.Code, m)
			}
		}
	}
}

func TestLookup(t *testing.T) {
	tests := []struct {
		v    Vocabulary
		text string
		code string
		how  How
	}{
		{Levels(), "BK", "transtibial", Exact},
		{Levels(), "b/k", "transtibial", Exact},
		{Levels(), "below-knee", "transtibial", Exact},
		{Levels(), " Below  Knee ", "transtibial", Exact},
		{Levels(), "TT", "transtibial", Exact},
		{Levels(), "transtibal", "transtibial", Near},
		{Levels(), "tranfsemoral", "transfemoral", Near},
		{Levels(), "tranfsemorol", "", NoMatch}, // two slips
		{Levels(), "knee below", "transtibial", Near},
		{Levels(), "b knee", "", NoMatch},
		{Levels(), "transfermoral", "transfemoral", Near},
		{Levels(), "Symes", "ankle disarticulation", Exact},
		{Levels(), "Gritti Stokes", "knee disarticulation", Exact},
		{Levels(), "BX", "", NoMatch},
		{Sides(), "L", "left", Exact},
		{Sides(), "rihgt", "", NoMatch}, // five letters: not guessed
		{Activities(), "k3", "K3", Exact},
		{Activities(), "3", "K3", Exact},
		{Activities(), "K-3", "K3", Exact},
		{Activities(), "K5", "", NoMatch},
		{EndReasons(), "Volume loss", "remake: volume loss", Exact},
		{EndReasons(), "remake: volume loss", "remake: volume loss", Exact},
		{EndReasons(), "volume los", "remake: volume loss", Near},
		{EndReasons(), "too loose", "remake: volume loss", Doubtful},
		{EndReasons(), "died", "died", Exact},
		{EndReasons(), "?", "unknown", Exact},
		{FindingWords(), "non blanching", "redness persisting", Exact},
		{FindingWords(), "redness", "other", Doubtful},
		{FindingWords(), "folliculitus", "folliculitis", Near},
		{RegionWords(), "Fib Head", "fibular head", Exact},
		{RegionWords(), "tib crest", "tibial crest", Near},
		{RegionWords(), "crest tibial", "tibial crest", Near},
		{RegionWords(), "ti cr", "", NoMatch},
		{RegionWords(), "lat fib sha", "", NoMatch}, // three words cut short are proposed
		{RegionWords(), "pop", "popliteal area", Exact},
		{Causes(), "vascu", "", NoMatch},                   // a single word cut short is proposed
		{EndReasons(), "definitive to check", "", NoMatch}, // the order of these words matters
		{EndReasons(), "volume loss or gain", "", NoMatch},
		{EndReasons(), "vol los", "remake: volume loss", Near},
		{YesNo(), "looked at", "yes", Exact},
		{YesNo(), "not examined", "no", Exact},
		{YesNo(), "nope", "no", Exact},
		{YesNo(), "maybe", "", NoMatch},
		{Actions(), "reline", "reline", Exact},
		{YesNo(), "✓", "yes", Exact},
		{YesNo(), "TRUE", "yes", Exact},
		{Purposes(), "F/U", "follow-up", Exact},
	}
	for _, tt := range tests {
		m := tt.v.Lookup(tt.text)
		if m.How == Near && (m.Certainty < MinCertainty || m.Certainty >= 1 || m.Why == "") || m.How == NoMatch && m.Certainty != 0 {
			t.Errorf("%s %q: certainty %g, %s", tt.v.Name(), tt.text, m.Certainty, m.Why)
		}
		if m.Code != tt.code || m.How != tt.how {
			t.Errorf("%s %q: got %q (%d), want %q (%d)", tt.v.Name(), tt.text, m.Code, m.How, tt.code, tt.how)
		}
	}
}

func TestLookupSuggestsNearest(t *testing.T) {
	for _, tt := range []struct {
		v          Vocabulary
		text, want string
	}{
		{Levels(), "tranfsemorol", "transfemoral"},
		{RegionWords(), "lat fib sha", "lateral fibular shaft"},
		{Causes(), "vascu", "vascular"},
		{Levels(), "transtibai1", "transtibial"},
		{EndReasons(), "skin brkdown", "remake: skin breakdown"},
		{EndReasons(), "limb shrunk a lot", "remake: volume loss"},
		{Levels(), "qqqq", ""},
	} {
		if m := tt.v.Lookup(tt.text); m.How != NoMatch || m.Nearest != tt.want {
			t.Errorf("%s %q: got %+v, want nearest %q", tt.v.Name(), tt.text, m, tt.want)
		}
	}
	if m := Sides().Lookup("bilateral"); m.Hint == "" {
		t.Error("bilateral gives no hint")
	}
}

func TestLookupAllReadsLists(t *testing.T) {
	ms, _, ok := Actions().LookupAll("heat relief + pad, socks")
	if !ok || len(ms) != 3 || ms[0].Code != "heat relief" || ms[1].Code != "pad added" || ms[2].Code != "sock advice" {
		t.Errorf("got %+v %v", ms, ok)
	}
	if _, parts, ok := Actions().LookupAll("ground and whatnot"); ok || parts[0] != "whatnot" {
		t.Errorf("got %v %v", parts, ok)
	}
}

func TestEndReasonSets(t *testing.T) {
	sizes := map[string]int{SetRemake: 13, SetMaking: 3, SetLimbChange: 5, SetUntraced: 3}
	for _, name := range EndReasonSets() {
		set := EndReasonSet(name)
		if len(set) != sizes[name] {
			t.Errorf("%s has %d reasons, want %d", name, len(set), sizes[name])
		}
		for _, c := range set {
			if !EndReasons().Has(c) {
				t.Errorf("%s: %q is no end reason", name, c)
			}
		}
	}
	if EndReasonSet("nonsense") != nil {
		t.Error("an unknown set is not nil")
	}
	if n := len(EndReasons().Codes()); n != 23 {
		t.Errorf("%d end reasons, want 23", n)
	}
}

func TestRegionsByLevel(t *testing.T) {
	for _, c := range []struct {
		code, tissue        string
		tolerant, sensitive []string
	}{
		{"fibular head", Bony, nil, []string{"transtibial"}},
		{"patellar tendon", Soft, []string{"transtibial", "knee disarticulation"}, nil},
		{"distal end", Soft, []string{"knee disarticulation"}, []string{"transtibial", "ankle disarticulation"}},
	} {
		r, ok := RegionByCode(c.code)
		if !ok || r.Tissue != c.tissue || !slices.Equal(r.Tolerant, c.tolerant) || !slices.Equal(r.Sensitive, c.sensitive) {
			t.Errorf("%s: %+v", c.code, r)
		}
	}
	for _, code := range RegionWords().Codes() {
		r, ok := RegionByCode(code)
		if !ok {
			t.Errorf("there is no region %q", code)
		}
		for _, l := range r.Tolerant {
			if !Levels().Has(l) || slices.Contains(r.Sensitive, l) {
				t.Errorf("%s takes pressure at the level %q", code, l)
			}
		}
		for _, l := range r.Sensitive {
			if !Levels().Has(l) {
				t.Errorf("%s is sensitive at the level %q", code, l)
			}
		}
	}
}
