package ingest

import (
	"crypto/rand"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// Codes are what the file of codes holds: random codes by the value in the
// log that each stands for, and by how many days the dates of a person are
// moved where a notebook asks for that.
type Codes struct {
	Person map[string]string
	Staff  map[string]string
	// Other are the codes of columns that an intake has replaced by codes,
	// by their kind: KindSocket, KindVisit, or KindOwn and the heading of a
	// column of the lab's own.
	Other map[string]map[string]string
	Shift map[string]int // days, by the code of the person
}

// The kinds of Codes.Other.
const (
	KindSocket = "socket"
	KindVisit  = "visit"
	KindOwn    = "own " // before the heading
)

const (
	kindPerson = "person"
	kindStaff  = "staff"
)

func newCodes() Codes {
	return Codes{Person: map[string]string{}, Staff: map[string]string{}, Other: map[string]map[string]string{}, Shift: map[string]int{}}
}

// of are the codes of a kind, made where there are none yet; nil for a word
// that is no kind.
func (c Codes) of(kind string) map[string]string {
	switch {
	case kind == kindPerson:
		return c.Person
	case kind == kindStaff:
		return c.Staff
	case kind != KindSocket && kind != KindVisit && (!strings.HasPrefix(kind, KindOwn) || len(kind) == len(KindOwn)):
		return nil
	}
	if c.Other[kind] == nil {
		c.Other[kind] = map[string]string{}
	}
	return c.Other[kind]
}

// Persons gives the code of a person's value in the log. A value that is a
// code already, put there by an intake, stands for itself; a value without a
// code gives nothing.
func (c *Codes) Persons() func(value string) string { return lookup(c.Person) }

// StaffCodes is as Persons, for members of staff.
func (c *Codes) StaffCodes() func(value string) string { return lookup(c.Staff) }

func lookup(codes map[string]string) func(string) string {
	given := map[string]bool{}
	for _, code := range codes {
		given[code] = true
	}
	return func(value string) string {
		if code, ok := codes[value]; ok || !given[value] {
			return code
		}
		return value
	}
}

// codeLetters leave out what is easily misread (0 O, 1 I L, 5 S, 8 B) and the
// vowels, so that no code is a word.
const codeLetters = "234679CDFGHJKMNPQRTVWXYZ"

// codePrefix is the letter with which the codes of a kind begin.
func codePrefix(kind string) string {
	switch kind {
	case kindPerson:
		return "P"
	case kindStaff:
		return "S"
	case KindSocket:
		return "K"
	case KindVisit:
		return "V"
	}
	return "X"
}

// DrawCode draws a random code of a person (P), staff (S), socket (K), visit
// (V) or something else (X) that is not among those taken, and takes it.
// Random bytes come from random, crypto/rand where nil.
func DrawCode(prefix string, taken map[string]bool, random io.Reader) (string, error) {
	return drawCode(prefix, taken, random)
}

// drawCode draws until a code is new. 24 letters to the power of 5 leave
// room for any lab.
func drawCode(prefix string, taken map[string]bool, random io.Reader) (string, error) {
	for range 1000 {
		code := []byte(prefix + "-")
		for len(code) < len(prefix)+6 {
			k, err := drawBelow(len(codeLetters), random)
			if err != nil {
				return "", err
			}
			code = append(code, codeLetters[k])
		}
		if !taken[string(code)] {
			taken[string(code)] = true
			return string(code), nil
		}
	}
	return "", errors.New("the random source keeps repeating itself")
}

// drawBelow draws a whole number from 0 to n-1, n up to 65536, each alike
// likely.
func drawBelow(n int, random io.Reader) (int, error) {
	if random == nil {
		random = rand.Reader
	}
	b, all := make([]byte, 1), 256
	if n > all {
		b, all = make([]byte, 2), 65536
	}
	for {
		if _, err := io.ReadFull(random, b); err != nil {
			return 0, err
		}
		k := 0
		for _, x := range b {
			k = k<<8 | int(x)
		}
		if k < all/n*n {
			return k % n, nil
		}
	}
}

const (
	codesHeader = "kind,value,code"
	shiftHeader = codesHeader + ",shift_days"
)

// maxShift bounds what a date may be moved by, in days.
const maxShift = 3653

func loadCodes(path string) (Codes, map[string]bool, error) {
	codes, taken := newCodes(), map[string]bool{}
	f, err := os.Open(path)
	if err != nil {
		return codes, taken, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return codes, taken, err
	}
	for i, row := range rows {
		if i == 0 {
			if h := strings.Join(row, ","); h != codesHeader && h != shiftHeader {
				return codes, taken, fmt.Errorf("the header is neither %s nor %s", codesHeader, shiftHeader)
			}
			continue
		}
		row[1] = asTyped(row[1])
		into := codes.of(asTyped(row[0]))
		switch {
		case into == nil:
			return codes, taken, fmt.Errorf("line %d: the kind is none of person, staff, socket, visit and own with a heading", i+1)
		case row[1] == "" || row[2] == "":
			return codes, taken, fmt.Errorf("line %d: a value or a code is missing", i+1)
		case into[row[1]] != "" || taken[row[2]]:
			return codes, taken, fmt.Errorf("line %d: the value or its code stands there twice", i+1)
		}
		into[row[1]] = row[2]
		taken[row[2]] = true
		if len(row) < 4 || row[3] == "" {
			continue
		}
		days, err := strconv.Atoi(asTyped(row[3]))
		if err != nil || days%7 != 0 || days < -maxShift || days > maxShift || row[0] != kindPerson {
			return codes, taken, fmt.Errorf("line %d: shift_days takes whole weeks in days, for persons alone", i+1)
		}
		codes.Shift[row[2]] = days
	}
	if len(rows) == 0 {
		return codes, taken, errors.New("the file is empty")
	}
	return codes, taken, nil
}

// saveCodes writes the file in the order of the codes, which tells nothing
// about the order in which people came.
func saveCodes(path string, codes Codes) error {
	kinds := append([]string{kindPerson, kindStaff}, slices.Sorted(maps.Keys(codes.Other))...)
	rows := [][]string{{"kind", "value", "code"}}
	if len(codes.Shift) > 0 {
		rows[0] = append(rows[0], "shift_days")
	}
	for _, kind := range kinds {
		var part [][]string
		for v, c := range codes.of(kind) {
			row := []string{kind, v, c}
			if len(codes.Shift) > 0 {
				row = append(row, "")
			}
			if days, ok := codes.Shift[c]; ok && kind == kindPerson {
				row[3] = strconv.Itoa(days)
			}
			part = append(part, row)
		}
		sort.Slice(part, func(i, j int) bool { return part[i][2] < part[j][2] })
		rows = append(rows, part...)
	}
	return writeWhole(path, func(w io.Writer) error { return writeInert(w, slices.Values(rows)) })
}

// writeWhole writes a file readable by its owner alone, under a temporary
// name first, so that it appears whole or not at all.
func writeWhole(path string, write func(io.Writer) error) error {
	tmp, err := os.CreateTemp(filepath.Dir(path), ".plybook-*") // mode 0600
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name()) // no file of that name is left after the rename
	if err := write(tmp); err != nil {
		tmp.Close()
		return err
	}
	if err := tmp.Sync(); err != nil {
		tmp.Close()
		return err
	}
	if err := tmp.Close(); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), path)
}
