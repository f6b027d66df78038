package batch

import (
	"slices"
	"sort"

	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/pdf"
)

// mostPages is how many pages a report in short is made to go on.
const mostPages = 4

// squeeze is what is done so that a report in short needs fewer pages.
type squeeze struct {
	once   bool            // a caution that was printed is referred to by its number
	tight  bool            // type and figures are smaller
	folded map[string]bool // questions printed without their figure, by id
}

// inPages is the report in short on at most four pages of a paper, where it can
// be brought there: first cautions are not repeated, then type and figures are
// smaller, then questions lose their figures, as few as will do. Where not even
// that brings it to four pages, none is taken away.
func (r *report) inPages(whole *document.Document, o pdf.Options) (*document.Document, error) {
	var first *document.Document
	try := func(q squeeze) (*document.Document, bool, error) {
		doc := brief(r, whole, q)
		if first == nil {
			first = doc
		}
		pages, err := pdf.Layout(doc, o)
		return doc, len(pages) <= mostPages, err
	}
	for _, q := range []squeeze{{}, {once: true}, {once: true, tight: true}} {
		if doc, fits, err := try(q); fits || err != nil {
			return doc, err
		}
	}
	order := r.foldable()
	var err error
	least := sort.Search(len(order)+1, func(n int) bool {
		_, fits, e := try(squeeze{once: true, tight: true, folded: setOf(order[:n])})
		if e != nil {
			err = e
		}
		return fits
	})
	if err != nil || least > len(order) {
		return first, err
	}
	return brief(r, whole, squeeze{once: true, tight: true, folded: setOf(order[:least])}), nil
}

func setOf(ids []string) map[string]bool {
	out := map[string]bool{}
	for _, id := range ids {
		out[id] = true
	}
	return out
}

// foldable are the questions that may be printed without their figure, those
// that can do without it best first: the later ones, and before those of the
// first page and those that ask for a decision all others.
func (r *report) foldable() []string {
	var plain, short, pressing []string
	for _, a := range r.answers {
		asked := slices.ContainsFunc(r.nb.Front.InShort, func(p notebook.Placed) bool { return p.Text == a.ID })
		switch {
		case a.ID == "" || a.Error != nil:
		case a.Attention != "" && a.Urgency < answer.Data:
			pressing = append(pressing, a.ID)
		case asked:
			short = append(short, a.ID)
		default:
			plain = append(plain, a.ID)
		}
	}
	slices.Reverse(plain)
	slices.Reverse(short)
	slices.Reverse(pressing)
	return slices.Concat(plain, short, pressing)
}
