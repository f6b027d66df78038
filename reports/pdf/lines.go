package pdf

import (
	"math"
	"strings"
	"unicode/utf8"

	"plybook/reports/document"
	"plybook/reports/typeface"
)

// textStyle is how a block of text is set.
type textStyle struct {
	size, lead   float64 // points; lead is from one baseline to the next
	colour       rgb
	bold, italic bool
}

// run is a part of a line in one font.
type run struct {
	x, w float64
	text string
	font typeface.Style
	size float64
	rise float64
	link string
}

// textLine is a broken line.
type textLine struct {
	runs []run
	w    float64
}

// fragment is a part of a word in one font.
type fragment struct {
	text string
	font typeface.Style
	size float64
	rise float64 // above the line
	link string
	w    float64
}

// word is what a line is made of: nothing inside it may be parted. space is
// the room that follows it if the line goes on; hyphen is the room of the
// hyphen set if the line ends here (a soft hyphen).
type word struct {
	frags  []fragment
	w      float64
	space  fragment
	hyphen float64
	end    bool // the line must end after it
}

// codeShrink makes code stand level with the text around it.
const codeShrink = 0.92

// raisedShrink and raisedBy set the mark of a footnote: its digits end level
// with the capitals of the text around them.
const (
	raisedShrink = 0.74
	raisedBy     = 0.3
)

// chop parts words wider than the measure wherever they must be parted.
func (p *pen) chop(in []word, measure float64) []word {
	fits := true
	for _, w := range in {
		if w.w > measure-w.hyphen {
			fits = false
			break
		}
	}
	if fits {
		return in
	}
	var out []word
	for _, w := range in {
		if w.w <= measure-w.hyphen {
			out = append(out, w)
			continue
		}
		room := measure - w.hyphen
		cur := word{}
		for _, f := range w.frags {
			var part []rune
			partW := 0.0
			flush := func() {
				if len(part) == 0 {
					return
				}
				g := f
				g.text = string(part)
				g.w = p.width(f.font, f.size, g.text)
				cur.frags = append(cur.frags, g)
				cur.w += g.w
				part, partW = nil, 0
			}
			for _, r := range f.text {
				// Kerning only ever brings characters closer, so the sum of
				// single widths is never too small.
				rw := p.width(f.font, f.size, string(r))
				if cur.w+partW+rw > room && (len(part) > 0 || len(cur.frags) > 0) {
					flush()
					out = append(out, cur)
					cur = word{}
				}
				part = append(part, r)
				partW += rw
			}
			flush()
		}
		cur.space, cur.hyphen, cur.end = w.space, w.hyphen, w.end
		out = append(out, cur)
	}
	return out
}

// breakLines sets words into lines no wider than the measure. It weighs the
// whole paragraph: the squares of the room left at the line ends are made
// least, a lone word on the last line and a broken word cost extra.
func (p *pen) breakLines(words []word, measure float64) []textLine {
	var lines []textLine
	for len(words) > 0 {
		n := 0
		for n < len(words) && !words[n].end {
			n++
		}
		if n < len(words) {
			n++
		}
		lines = append(lines, p.breakPart(words[:n], measure)...)
		words = words[n:]
	}
	return lines
}

func (p *pen) breakPart(words []word, measure float64) []textLine {
	if n := len(words); n > 0 {
		words[n-1].hyphen = 0 // nothing follows
	}
	words = p.chop(words, measure)
	n := len(words)
	best := make([]float64, n+1) // cost of setting the first i words
	from := make([]int, n+1)
	for i := 1; i <= n; i++ {
		best[i] = math.Inf(1)
	}
	for i := 0; i < n; i++ {
		if math.IsInf(best[i], 1) {
			continue
		}
		w := 0.0
		for j := i; j < n; j++ {
			w += words[j].w
			if w > measure+0.001 && j > i {
				break
			}
			slack := max(0, measure-w) / measure
			cost := slack * slack
			switch {
			case j == n-1:
				cost = 0
				if i == j && n > 3 {
					cost = 0.06
				}
			case words[j].space.text == "":
				cost += 0.02
				if words[j].hyphen > 0 {
					cost += 0.04
					if w+words[j].hyphen > measure+0.001 {
						w += words[j].space.w
						continue
					}
				}
			}
			if c := best[i] + cost; c < best[j+1] {
				best[j+1], from[j+1] = c, i
			}
			w += words[j].space.w
		}
	}
	if n > 0 && math.IsInf(best[n], 1) {
		// Only a measure narrower than a character can lead here.
		for i := range n {
			from[i+1] = i
		}
	}
	var ends []int
	for j := n; j > 0; j = from[j] {
		ends = append(ends, j)
	}
	lines := make([]textLine, 0, len(ends))
	start := 0
	for k := len(ends) - 1; k >= 0; k-- {
		l := p.join(words[start:ends[k]])
		// A space at the end of a line takes no room and parts its last word
		// from the next line for those who have the text read to them.
		if n := len(l.runs); k > 0 && n > 0 && words[ends[k]-1].space.text != "" {
			l.runs[n-1].text += " "
		}
		lines = append(lines, l)
		start = ends[k]
	}
	return lines
}

// join makes the runs of a line: neighbours in one font become one string,
// spaces included, so that text taken out of the page reads as written.
func (p *pen) join(words []word) textLine {
	var l textLine
	x := 0.0
	add := func(f fragment) {
		if f.text == "" {
			return
		}
		if n := len(l.runs); n > 0 {
			r := &l.runs[n-1]
			if r.font == f.font && r.size == f.size && r.rise == f.rise && r.link == f.link {
				last, _ := utf8.DecodeLastRuneInString(r.text)
				first, _ := utf8.DecodeRuneInString(f.text)
				r.w += f.w + p.m.Kern(r.font, last, first)*r.size/1000
				r.text += f.text
				x = r.x + r.w
				return
			}
		}
		l.runs = append(l.runs, run{x: x, w: f.w, text: f.text, font: f.font, size: f.size, rise: f.rise, link: f.link})
		x += f.w
	}
	for i, w := range words {
		for _, f := range w.frags {
			add(f)
		}
		last := i == len(words)-1
		if last && w.hyphen > 0 && !w.end && w.space.text == "" {
			f := w.frags[len(w.frags)-1]
			f.text, f.w = "-", w.hyphen
			add(f)
		}
		if !last {
			add(w.space)
		}
	}
	l.w = x
	return l
}

// setText breaks spans to a measure.
func (p *pen) setText(spans []document.Span, st textStyle, measure float64) []textLine {
	return p.breakLines(p.words(spans, st), measure)
}

// plainText breaks a string to a measure.
func (p *pen) plainText(text string, st textStyle, measure float64) []textLine {
	return p.setText([]document.Span{{Text: text}}, st, measure)
}

// drawLine sets a line from x on a baseline. Links are in the accent colour
// with a rule under them, so that they show in print too.
func (p *pen) drawLine(l textLine, x, baseline float64, st textStyle) {
	ended := lineLink{}
	for i, r := range l.runs {
		id, known := p.links[strings.TrimPrefix(r.link, "#")]
		inside := strings.HasPrefix(r.link, "#") && known
		if !inside && !webLink(r.link) {
			p.text(x+r.x, baseline-r.rise, r.font, r.size, st.colour, r.text)
			continue
		}
		within := p.tags.in
		e, done := p.tagLink(r.link, i == 0)
		p.text(x+r.x, baseline-r.rise, r.font, r.size, accent, r.text)
		top, height := baseline-r.size*0.8, r.size*1.05
		if inside {
			p.pdf.Link(x+r.x, top, r.w, height, id)
			p.clickable(e, strings.TrimSpace(r.text))
		} else {
			p.pdf.LinkString(x+r.x, top, r.w, height, asciiURL(r.link))
			p.clickable(e, r.link)
		}
		done()
		p.rule(x+r.x, baseline+1.6, r.w, 0.4, line)
		if i == len(l.runs)-1 {
			ended = lineLink{to: r.link, within: within, own: e}
		}
	}
	p.tags.line = ended
}

// webLink says whether a link may leave the report.
func webLink(s string) bool {
	for _, scheme := range []string{"https://", "http://", "mailto:"} {
		if len(s) > len(scheme) && strings.EqualFold(s[:len(scheme)], scheme) {
			return true
		}
	}
	return false
}

// asciiURL escapes what a link in a PDF may not hold.
func asciiURL(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if c := s[i]; c <= ' ' || c >= 0x7f || c == '\\' {
			const hex = "0123456789ABCDEF"
			b.WriteByte('%')
			b.WriteByte(hex[c>>4])
			b.WriteByte(hex[c&15])
		} else {
			b.WriteByte(c)
		}
	}
	return b.String()
}
