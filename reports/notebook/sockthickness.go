package notebook

import (
	"strconv"
	"strings"

	"plybook/analysis/limb"
)

// SockThickness is how thick socks are, as the notebook says.
type SockThickness struct {
	Published string      // one of PublishedSocks; "" where Socks are given
	Socks     []limb.Sock // of the lab's own, as written
	Source    string      // of the lab's own, as written
}

// PublishedSocks are the published lists of thicknesses: of socks knitted from
// one material, and of those knitted from several.
var PublishedSocks = []string{"one-material", "several-materials"}

// Thickness is the list itself; that of one material for a nil SockThickness.
func (s *SockThickness) Thickness() limb.Thickness {
	switch {
	case s == nil || s.Published == PublishedSocks[0]:
		return limb.OneMaterial()
	case s.Published == PublishedSocks[1]:
		return limb.SeveralMaterials()
	}
	t, err := limb.NewThickness(s.Socks)
	if err != nil { // refused where the notebook is read
		return limb.OneMaterial()
	}
	return t
}

// readSockThickness reads the name of a published list, or the lab's own:
// {1: 0.7, 3: 1.2, source: where from}.
func readSockThickness(r *reader, key string, n node) *SockThickness {
	s := &SockThickness{}
	if n.kind != nodeMap {
		s.Published = r.word(key, n, PublishedSocks)
		return s
	}
	before := len(r.errs)
	seen := map[string]bool{}
	for _, e := range n.entries {
		if seen[e.key] {
			r.fail(e.keyPos, CodeDuplicateKey, "`%s` stands in `%s` already", e.key, key)
			continue
		}
		seen[e.key] = true
		if e.key == "source" {
			s.Source = strings.TrimSuffix(r.text("source", e.value), ".")
			continue
		}
		ply, ok := plainNumber(e.key)
		if !ok {
			r.fail(e.keyPos, CodeUnknownKey, "`%s` takes the thickness in mm of a sock by its ply, such as {1: 0.7, 3: 1.2, source: where from}; %s is no ply", key, strconv.Quote(e.key))
			continue
		}
		mm, _ := r.number(e.key+" ply", e.value)
		s.Socks = append(s.Socks, limb.Sock{Ply: ply, MM: mm})
	}
	if len(r.errs) > before {
		return s
	}
	if _, err := limb.NewThickness(s.Socks); err != nil {
		r.fail(n.pos, CodeBadValue, "`%s` takes at least one sock: thicknesses are above 0 and up to 20 mm, of different ply up to 40, and do not fall with ply", key)
	}
	if s.Source == "" {
		r.fail(n.pos, CodeMissingKey, "`%s` needs `source`, where the thicknesses come from", key)
	}
	return s
}
