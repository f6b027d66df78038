package ingest

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
)

// plyFlag says what a reader should look at in a ply that was read.
type plyFlag int

const (
	plyPlain  plyFlag = iota
	plyRange          // 3-5: the middle is used
	plyAMPM           // am 3 / pm 8: the later one is used
	plyApprox         // ~5, >15, 15+
	plyComma          // 5,3 and 5 3: taken for two socks
)

var (
	errPly   = errors.New("not a sock ply")
	errSocks = errors.New("a number of socks without their ply")
	errPlies = errors.New("more ply than a limb can wear")
)

// maxPly is the total beyond which a ply is taken for a slip. Labs act at
// about 15; no cause is known to write more than 40.
const maxPly = 40

var (
	plyAM      = regexp.MustCompile(`^(?:am|a\.m\.?|morning|mane)\s*[:=]?\s*(.+?)\s*[/,;]?\s*(?:pm|p\.m\.?|evening|afternoon|eve|night)\s*[:=]?\s*(.+)$`)
	plyBoth    = regexp.MustCompile(`^(?:am|a\.m\.?|morning|mane)\s*[:=]?\s*(.+?)\s*[/;]\s*([^/;]+?)\s*(?:pm|p\.m\.?|evening|afternoon|eve|night)$`)
	plyPM      = regexp.MustCompile(`^(?:pm|p\.m\.?|evening|afternoon|eve|night)\s*[:=]?\s*(.+?)\s*[/,;]?\s*(?:am|a\.m\.?|morning)\s*[:=]?\s*(.+)$`)
	plyAfterAM = regexp.MustCompile(`^(.+?)\s*(?:am|a\.m\.?|morning)\s*[/,;]?\s*(.+?)\s*(?:pm|p\.m\.?|evening|afternoon|eve|night)$`)
	plyOnlyAM  = regexp.MustCompile(`^(?:am|morning)\s*[:=]?\s*(.+)$|^(.+?)\s*(?:am|morning)$`)
	plyOnlyPM  = regexp.MustCompile(`^(?:pm|evening)\s*[:=]?\s*(.+)$|^(.+?)\s*(?:pm|evening)$`)
	plySpan    = regexp.MustCompile(`^(\d+(?:[.,]\d+)?)\s*(?:ply|p)?\s*(?:-|to|->)\s*(\d+(?:[.,]\d+)?)\s*(?:-?\s*ply|p)?$`)
	plyPieces  = regexp.MustCompile(`(?:^|[+&,;]|\band\b|\bplus\b)\s*(?:(?:1|one|a)\s*(?:x\s*)?(?:(?:half|cut|distal)[\s-]*sock|(?:nylon\s+|thin\s+)?sheath)\b|(?:\d+|two|three|four)\s*(?:x\s*)?(?:(?:half|cut|distal)[\s-]*socks|(?:nylon\s+|thin\s+)?sheaths)\b)`)
	plyCloth   = regexp.MustCompile(`\d\s*(?:x\s*)?(?:(?:half|cut|distal)[\s-]*socks?|(?:nylon\s+|thin\s+)?sheaths?)`)
	plyListed  = regexp.MustCompile(`^\d+(?:\.\d+)?(?:[, ]\d+)+ ?(?:ply|p)?$`)
	plyHalf    = regexp.MustCompile(`(?:half|1/2|cut|distal)[\s-]*socks?`)
	plySheath  = regexp.MustCompile(`(?:nylon\s+|thin\s+)?sheaths?(?:\s*only)?`)
	plyTimes   = regexp.MustCompile(`^(\d+)\s*x\s*(\d+)\s*(?:-?\s*ply|p)?\s*(?:socks?)?`)
	plyCount   = regexp.MustCompile(`^\((\d+)\)\s*(\d+)\s*(?:-?\s*ply|p)?\s*(?:socks?)?`)
	plyTwice   = regexp.MustCompile(`^(\d+)\s*-?\s*(?:ply|p)\s*(?:socks?\s*)?x\s*(\d+)`)
	plyOne     = regexp.MustCompile(`^(\d+(?:[.,]\d+)?)\s*(?:-?\s*ply|p\b)?\s*(?:socks?)?`)
	sockCount  = regexp.MustCompile(`^\d+\s*socks?$`)
)

// plyAndHalf is a mixed number such as 1 1/2, but for a half sock.
var plyAndHalf = regexp.MustCompile(`(\d+) (1)/(2)(\s*(?:-?\s*ply|p)\b|\s*[+&,;/)]|\s*$)`)

var numberWords = strings.NewReplacer("one ", "1 x ", "two ", "2 x ", "three ", "3 x ", "four ", "4 x ")

// parsePly reads sock ply as people write it. A bare total above 6 leaves
// the list of socks empty, since no such sock is sold.
func parsePly(text string) (Ply, plyFlag, error) {
	s := strings.ToLower(tidyText(text))
	p := Ply{Text: strings.TrimSpace(text)}
	if m := plyAM.FindStringSubmatch(s); m != nil {
		return morningEvening(p, m[1], m[2])
	}
	if m := plyBoth.FindStringSubmatch(s); m != nil {
		return morningEvening(p, m[1], m[2])
	}
	if m := plyPM.FindStringSubmatch(s); m != nil {
		return morningEvening(p, m[2], m[1])
	}
	if m := plyAfterAM.FindStringSubmatch(s); m != nil {
		return morningEvening(p, m[1], m[2])
	}
	if m := plyOnlyAM.FindStringSubmatch(s); m != nil {
		q, flag, err := socks(m[1] + m[2])
		q.Text, q.Morning = p.Text, Some(q.Total)
		return q, flag, err
	}
	if m := plyOnlyPM.FindStringSubmatch(s); m != nil {
		q, flag, err := socks(m[1] + m[2])
		q.Text, q.Evening = p.Text, Some(q.Total)
		return q, flag, err
	}
	q, flag, err := socks(s)
	q.Text = p.Text
	return q, flag, err
}

func morningEvening(p Ply, am, pm string) (Ply, plyFlag, error) {
	a, _, err1 := socks(strings.Trim(am, " /,;"))
	b, _, err2 := socks(strings.Trim(pm, " /,;"))
	if err := errors.Join(err1, err2); err != nil {
		return Ply{}, plyPlain, fmt.Errorf("morning and evening: %w", err)
	}
	text := p.Text
	p = b
	p.Text, p.Morning, p.Evening = text, Some(a.Total), Some(b.Total)
	return p, plyAMPM, nil
}

// socks reads one state of the limb: a total, a list or a range.
func socks(s string) (Ply, plyFlag, error) {
	var p Ply
	flag := plyPlain
	s = plyAndHalf.ReplaceAllString(strings.TrimSpace(s), "$1.5$4")
	for _, mark := range []string{"~", "≈", "approx", "about", "ca.", ">=", ">", "<"} {
		if rest, ok := strings.CutPrefix(s, mark); ok {
			s, flag = strings.TrimSpace(rest), plyApprox
		}
	}
	if rest, ok := strings.CutSuffix(s, "?"); ok {
		s, flag = strings.TrimSpace(rest), plyApprox
	}
	if rest, ok := strings.CutSuffix(s, "+"); ok {
		s, flag = strings.TrimSpace(rest), plyApprox
	}
	if m := plySpan.FindStringSubmatch(s); m != nil {
		lo, hi := atof(strings.ReplaceAll(m[1], ",", ".")), atof(strings.ReplaceAll(m[2], ",", "."))
		if max(lo, hi) > maxPly {
			return Ply{}, flag, errPlies
		}
		p.Total = (lo + hi) / 2
		return p, plyRange, nil
	}
	if sockCount.MatchString(s) {
		return Ply{}, flag, errSocks
	}
	// "2 sheaths" counts sheaths, not ply; of "3 sheath" it cannot be told.
	if pieces := plyPieces.FindAllString(s, -1); pieces != nil {
		for _, piece := range pieces {
			p.HalfSock = p.HalfSock || !strings.Contains(piece, "sheath")
			p.Sheath = p.Sheath || strings.Contains(piece, "sheath")
		}
		s = plyPieces.ReplaceAllString(s, "+")
	}
	if plyCloth.MatchString(s) && !strings.Contains(s, "1/2") {
		return Ply{}, flag, errPly
	}
	if plyListed.MatchString(s) && flag == plyPlain {
		flag = plyComma
	}
	if plyHalf.MatchString(s) {
		p.HalfSock = true
		s = plyHalf.ReplaceAllString(s, " ")
	}
	if plySheath.MatchString(s) {
		p.Sheath = true
		s = plySheath.ReplaceAllString(s, " ")
	}
	s = strings.NewReplacer(" and ", "+", " plus ", "+", "&", "+", ",", "+", ";", "+", " with ", "+").Replace(" " + s + " ")
	s = strings.Trim(s, " +")
	switch s {
	case "":
		if p.HalfSock || p.Sheath {
			return p, flag, nil
		}
		return Ply{}, flag, errPly
	case "none", "no socks", "no sock", "nil", "zero", "liner only", "liner", "no ply", "bare", "without":
		return p, flag, nil
	}
	s = strings.TrimSpace(numberWords.Replace(s))
	single := true
	for s != "" {
		rest, count, ply, err := sockTerm(s)
		if err != nil {
			return Ply{}, flag, err
		}
		if count < 1 || count > 12 || ply > maxPly {
			return Ply{}, flag, errPlies
		}
		for range count {
			if ply > 0 {
				p.Socks = append(p.Socks, ply)
				p.Total += ply
			}
		}
		s = strings.Trim(rest, " +")
		single = single && s == "" && count == 1
	}
	if p.Total > maxPly {
		return Ply{}, flag, errPlies
	}
	if single && (p.Total > 6 || p.Total == 0 || p.Total != float64(int(p.Total))) {
		p.Socks = nil
	}
	return p, flag, nil
}

// sockTerm reads one term such as 1x5, (2) 1-ply, 5 ply x2 or 3 ply.
func sockTerm(s string) (rest string, count int, ply float64, err error) {
	if m := plyTwice.FindStringSubmatch(s); m != nil {
		return s[len(m[0]):], num(m[2]), atof(m[1]), nil
	}
	if m := plyTimes.FindStringSubmatch(s); m != nil {
		return termEnd(s, m[0], num(m[1]), atof(m[2]))
	}
	if m := plyCount.FindStringSubmatch(s); m != nil {
		return termEnd(s, m[0], num(m[1]), atof(m[2]))
	}
	if m := plyOne.FindStringSubmatch(s); m != nil {
		return termEnd(s, m[0], 1, atof(strings.ReplaceAll(m[1], ",", ".")))
	}
	return "", 0, 0, errPly
}

func termEnd(s, matched string, count int, ply float64) (string, int, float64, error) {
	rest := s[len(matched):]
	if rest != "" && !strings.ContainsAny(rest[:1], " +(") && !strings.HasSuffix(matched, " ") {
		return "", 0, 0, errPly
	}
	return rest, count, ply, nil
}
