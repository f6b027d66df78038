package ingest

import (
	"errors"
	"fmt"
	"io"
	"os"
	"sort"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Coder gives out random codes: those of a file of codes, and new ones for
// values that it lacks. A value is looked up as it is typed, then by its key
// (identityKey); it is stored as it was typed first.
type Coder struct {
	codes  Codes
	taken  map[string]bool
	keys   map[string]map[string]string // kind -> key -> code
	random io.Reader
	fresh  map[string]bool // codes given out since the file was read
	exists bool            // there is a file
	moved  bool            // shifts were drawn since
}

// OpenCodes reads the file of codes at path; a file that does not exist holds
// none yet. Random bytes come from random, crypto/rand where nil. Nothing is
// written before Save.
func OpenCodes(path string, random io.Reader) (*Coder, error) {
	codes, taken, err := loadCodes(path)
	missing := errors.Is(err, os.ErrNotExist)
	if err != nil && !missing {
		return nil, fmt.Errorf("read the codes in %s: %w", path, err)
	}
	c := &Coder{codes: codes, taken: taken, random: random, fresh: map[string]bool{}, keys: map[string]map[string]string{}, exists: !missing}
	for _, kind := range c.kinds() {
		keys := map[string]string{}
		for value, code := range codes.of(kind) {
			key := identityKey(value)
			if other, ok := keys[key]; ok && other != code {
				code = "" // two values of one key, from before keys were compared: only the text tells
			}
			keys[key] = code
		}
		c.keys[kind] = keys
	}
	return c, nil
}

func (c *Coder) kinds() []string {
	out := []string{kindPerson, kindStaff}
	for kind := range c.codes.Other {
		out = append(out, kind)
	}
	return out
}

// Exists says whether there was a file of codes.
func (c *Coder) Exists() bool { return c.exists }

// Codes are all codes, new ones included. They are not to be changed.
func (c *Coder) Codes() *Codes { return &c.codes }

// Fresh is how many codes were given out that the file lacks.
func (c *Coder) Fresh() int { return len(c.fresh) }

// Add gives codes to persons and members of staff that have none.
func (c *Coder) Add(persons, staff []string) error {
	for _, kind := range []struct {
		name   string
		values []string
		known  func(string) string
	}{{kindPerson, persons, c.codes.Persons()}, {kindStaff, staff, c.codes.StaffCodes()}} {
		values := append([]string(nil), kind.values...)
		sort.Strings(values)
		for _, v := range values {
			if v == "" || kind.known(v) != "" {
				continue
			}
			if _, err := c.draw(kind.name, v); err != nil {
				return err
			}
		}
	}
	return nil
}

// code is the code of a value of a column that is replaced by codes. A value
// that is a code of its kind stays one.
func (c *Coder) code(kind, value string) (string, error) {
	codes := c.codes.of(kind)
	if code, ok := codes[value]; ok {
		return code, nil
	}
	if c.keys[kind] == nil {
		c.keys[kind] = map[string]string{}
	}
	key := identityKey(value)
	if code := c.keys[kind][key]; code != "" {
		return code, nil
	}
	if c.taken[value] && strings.HasPrefix(value, codePrefix(kind)+"-") {
		return value, nil
	}
	code, err := c.draw(kind, value)
	if err != nil {
		return "", err
	}
	if _, twice := c.keys[kind][key]; !twice {
		c.keys[kind][key] = code
	}
	return code, nil
}

func (c *Coder) draw(kind, value string) (string, error) {
	code, err := drawCode(codePrefix(kind), c.taken, c.random)
	if err != nil {
		return "", fmt.Errorf("make a code: %w", err)
	}
	c.codes.of(kind)[value] = code
	c.fresh[code] = true
	return code, nil
}

// ErrShift is returned where a shift drawn earlier is larger than is asked.
var ErrShift = errors.New("dates of some persons are moved by more than is asked")

// DrawShifts draws for each person, given by code, by how many days the
// person's dates are moved: whole weeks, so that a visit on a Monday stays on
// one and no date falls on a day on which nobody works; at most so many days
// to either side, each alike likely, never 0. Shifts drawn before stay. One of
// them above the limit is an ErrShift, and nothing is drawn.
func (c *Coder) DrawShifts(codes []string, within int) error {
	weeks := within / 7
	if weeks < 1 || within > maxShift {
		return fmt.Errorf("a shift of dates is from 7 to %d days, not %d", maxShift, within)
	}
	for _, code := range codes {
		if days := c.codes.Shift[code]; days > within || -days > within {
			return ErrShift
		}
	}
	for _, code := range codes {
		if c.codes.Shift[code] != 0 {
			continue
		}
		k, err := drawBelow(2*weeks, c.random)
		if err != nil {
			return fmt.Errorf("draw a shift of dates: %w", err)
		}
		if k -= weeks; k >= 0 {
			k++
		}
		c.codes.Shift[code], c.moved = 7*k, true
	}
	return nil
}

// Save writes the file of codes if anything was added or there is none yet,
// and closes it to others.
func (c *Coder) Save(path string) error {
	if len(c.fresh) > 0 || c.moved || !c.exists {
		if err := saveCodes(path, c.codes); err != nil {
			return fmt.Errorf("write the codes to %s: %w", path, err)
		}
		c.fresh, c.exists, c.moved = map[string]bool{}, true, false
		return nil
	}
	if info, err := os.Stat(path); err == nil && info.Mode().Perm()&0o077 != 0 {
		if err := os.Chmod(path, 0o600); err != nil {
			return fmt.Errorf("close the codes in %s to others: %w", path, err)
		}
	}
	return nil
}

// Columns that together tell people apart are joined so in the file of codes.
const partJoint = " | "

// identityKey is by what two texts are taken for one: letters and figures
// alone, case aside, however accents and widths are stored. Between two
// figures something that is neither stays, since 1-23 is not 12-3.
func identityKey(text string) string {
	var b strings.Builder
	last, gap := ' ', false
	for _, r := range norm.NFKC.String(text) {
		switch {
		case unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.IsMark(r):
			if gap && unicode.IsDigit(last) && unicode.IsDigit(r) {
				b.WriteByte('-')
			}
			r = unicode.ToLower(r)
			b.WriteRune(r)
			last, gap = r, false
		case r == '|':
			b.WriteByte('|')
			last, gap = r, false
		default:
			gap = true
		}
	}
	if b.Len() == 0 {
		return strings.TrimSpace(text)
	}
	return b.String()
}
