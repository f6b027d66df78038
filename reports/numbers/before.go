package numbers

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"

	"plybook/analysis/withhold"
	"plybook/reports/answer"
)

// Before is what an earlier edition of a report has shown.
type Before struct {
	File    string // as read
	Bytes   []byte
	answers map[string]beforeAnswer // by id and method
}

// beforeAnswer is an answer of numbers.json, as far as its counts go.
type beforeAnswer struct {
	ID, Method   string
	Rows, Events *int
	Tables       map[string][]map[string]any
}

// ReadBefore reads the numbers.json of an earlier edition of a report that
// hides counts below a number, and whose questions are asks (id and method).
// What it says of a file that does not serve names the file and what was
// expected.
func ReadBefore(path string, below int, asks [][2]string) (*Before, error) {
	raw, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("there is no file %s: expected the numbers.json of the earlier edition's report", path)
	}
	if err != nil {
		return nil, fmt.Errorf("the earlier edition: %w", err)
	}
	var in struct {
		Schema    *int
		HideBelow *int `json:"hide_below"`
		Answers   []beforeAnswer
	}
	if err := json.Unmarshal(raw, &in); err != nil || in.Schema == nil {
		return nil, fmt.Errorf("%s is no numbers.json: expected that of the earlier edition's report", path)
	}
	if *in.Schema != Schema {
		return nil, fmt.Errorf("%s has numbers of layout %d: expected layout %d", path, *in.Schema, Schema)
	}
	if in.HideBelow == nil {
		return nil, fmt.Errorf("%s does not say below which number it hides counts: expected a numbers.json with hide_below; run the earlier edition again with this release", path)
	}
	if *in.HideBelow != below {
		return nil, fmt.Errorf("%s hides counts below %d: expected an edition that hides them below %d, as this one does", path, *in.HideBelow, below)
	}
	b := &Before{File: path, Bytes: raw, answers: map[string]beforeAnswer{}}
	for _, a := range in.Answers {
		b.answers[a.ID+"\x00"+a.Method] = a
	}
	shared := false
	for _, ask := range asks {
		_, ok := b.answers[ask[0]+"\x00"+ask[1]]
		shared = shared || ok
	}
	if !shared {
		return nil, fmt.Errorf("%s has none of this notebook's questions (by id and method): expected the earlier edition of the same report", path)
	}
	return b, nil
}

// before relates the counts of an answer with those that an earlier edition
// has shown in the same place: a difference that is few is protected as a
// count of its own. It reports whether something was withheld at once, as
// counts of curves are, which stand in no sum.
func (r *register) before(k int, raw *answer.Answer, b *Before, also answer.Withheld) bool {
	old, ok := b.answers[raw.ID+"\x00"+raw.Method]
	if !ok || raw.Error != nil {
		return false
	}
	news := false
	pair := func(at placeOf, now, then int) {
		d := max(now-then, then-now)
		p, ok := r.place[at]
		if ok && now >= then {
			// A reader may take it that what is counted only grows.
			r.cells[p.cell].Low = max(r.cells[p.cell].Low, then)
		}
		if !r.few(d) {
			return
		}
		if !ok {
			if now >= r.below {
				news = also.Add(raw.ID, now, answer.Altogether) || news
			}
			return
		}
		was := len(r.cells)
		r.cells = append(r.cells,
			entry{of: "shown before", by: [][]string{{"-"}}, Cell: withhold.Cell{Count: then, Low: then, High: then, Loss: 1}},
			entry{of: "more or fewer than before", by: [][]string{{"-"}}, Cell: withhold.Cell{Count: d, Loss: 1}})
		if now > then {
			r.relate(p.cell, []int{was, was + 1})
		} else {
			r.relate(was, []int{p.cell, was + 1})
		}
	}
	if old.Rows != nil {
		pair(placeOf{k, "", -1, "rows"}, raw.Rows, *old.Rows)
	}
	if old.Events != nil && raw.HasEvents {
		pair(placeOf{k, "", -1, "events"}, raw.Events, *old.Events)
	}
	for _, t := range raw.Tables {
		then := map[string][]map[string]any{}
		for _, row := range old.Tables[t.Name] {
			key := wordsOf(t, func(j int) any { return row[t.Columns[j].Name] })
			then[key] = append(then[key], row)
		}
		for i, row := range t.Rows {
			key := wordsOf(t, func(j int) any { return row[j] })
			if len(then[key]) == 0 {
				continue
			}
			was := then[key][0]
			then[key] = then[key][1:]
			for j, c := range t.Columns {
				n, ok := raw.CountAt(&t, i, j)
				x, shown := was[c.Name].(float64)
				if ok && shown && n > 0 {
					pair(placeOf{k, t.Name, i, c.Name}, n, int(x))
				}
			}
		}
	}
	return news
}

// wordsOf is what a row of a table is about: its words, and in a curve its
// time.
func wordsOf(t answer.Table, value func(column int) any) string {
	var b strings.Builder
	for j, c := range t.Columns {
		switch {
		case c.Type == answer.TypeText:
			s, _ := value(j).(string)
			b.WriteString(s)
		case c.Name == "time" || c.Name == "station_mm":
			b.WriteString(strconv.FormatFloat(numberOf(value(j)), 'g', 9, 64))
		}
		b.WriteByte(0)
	}
	return b.String()
}
