package ingest

import (
	"crypto/rand"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"unicode"
)

// codePrefixes are words that people put before a number to make a code.
var codePrefixes = map[string]bool{"person": true, "limb": true, "user": true, "client": true, "case": true, "study": true, "staff": true, "tech": true, "socket": true, "prosthetist": true, "technician": true, "code": true, "visit": true}

// LooksLikeCode reports whether all values are codes that name nobody: up to
// 12 characters, with a digit (or a single letter), at most six digits, and
// no letters that could be a name or initials alone. An empty list is not.
func LooksLikeCode(values []string) bool {
	if len(values) == 0 {
		return false
	}
	for _, v := range values {
		if !isCode(strings.TrimSpace(v)) {
			return false
		}
	}
	return true
}

func isCode(s string) bool {
	if digits := codeDigits(s); digits > 0 {
		return digits <= 6
	}
	digits, letters := 0, 0
	for _, r := range s {
		switch {
		case r >= '0' && r <= '9':
			digits++
		case unicode.IsLetter(r):
			letters++
		case strings.ContainsRune("-_/. #", r):
		default:
			return false
		}
	}
	if len([]rune(s)) > 12 || digits > 6 || s == "" {
		return false
	}
	if digits == 0 {
		return letters == 1
	}
	for _, word := range strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) }) {
		w := strings.ToLower(word)
		if len([]rune(word)) > 3 && !codePrefixes[w] && w != "left" && w != "right" {
			return false
		}
	}
	return true
}

// codeDigits is the number of digits of an identifier in the form of most: up
// to three capitals, a hyphen or nothing, digits. It is 0 for another form.
func codeDigits(s string) int {
	i := 0
	for i < len(s) && i < 3 && s[i] >= 'A' && s[i] <= 'Z' {
		i++
	}
	if i > 0 && i < len(s) && s[i] == '-' {
		i++
	}
	from := i
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	if i < len(s) {
		return 0
	}
	return i - from
}

// longest is the length of the longest run of runes that in accepts.
func longest(s string, in func(rune) bool) int {
	best, run := 0, 0
	for _, r := range s {
		if in(r) {
			run++
			best = max(best, run)
		} else {
			run = 0
		}
	}
	return best
}

// Codes are random codes for persons and staff, by their value in the log.
type Codes struct {
	Person map[string]string
	Staff  map[string]string
}

// codeLetters leave out what is easily misread (0 O, 1 I L, 5 S, 8 B) and the
// vowels, so that no code is a word.
const codeLetters = "234679CDFGHJKMNPQRTVWXYZ"

// LoadOrMakeCodes reads the key file at path, adds random codes for values
// that have none, and writes it back if anything was added. The file is
// readable by its owner alone. A code is drawn from random (crypto/rand where
// nil) and has nothing to do with the value. Missing files are made; a file
// that cannot be read as a key file is an error and is left as it is.
func LoadOrMakeCodes(path string, persons, staff []string, random io.Reader) (Codes, error) {
	if random == nil {
		random = rand.Reader
	}
	codes, taken, err := loadCodes(path)
	missing := errors.Is(err, os.ErrNotExist)
	if err != nil && !missing {
		return Codes{}, fmt.Errorf("read the codes in %s: %w", path, err)
	}
	added := 0
	for _, kind := range []struct {
		prefix string
		values []string
		into   map[string]string
	}{{"P", persons, codes.Person}, {"S", staff, codes.Staff}} {
		values := append([]string(nil), kind.values...)
		sort.Strings(values)
		for _, v := range values {
			if v == "" || kind.into[v] != "" {
				continue
			}
			code, err := drawCode(kind.prefix, taken, random)
			if err != nil {
				return Codes{}, fmt.Errorf("make a code: %w", err)
			}
			kind.into[v] = code
			added++
		}
	}
	if added > 0 || missing {
		if err := saveCodes(path, codes); err != nil {
			return Codes{}, fmt.Errorf("write the codes to %s: %w", path, err)
		}
	} else if info, err := os.Stat(path); err == nil && info.Mode().Perm()&0o077 != 0 {
		if err := os.Chmod(path, 0o600); err != nil {
			return Codes{}, fmt.Errorf("close the codes in %s to others: %w", path, err)
		}
	}
	return codes, nil
}

// drawCode draws until a code is new. 24 letters to the power of 5 leave
// room for any lab.
func drawCode(prefix string, taken map[string]bool, random io.Reader) (string, error) {
	var b [1]byte
	for range 1000 {
		code := []byte(prefix + "-")
		for len(code) < len(prefix)+6 {
			if _, err := io.ReadFull(random, b[:]); err != nil {
				return "", err
			}
			if int(b[0]) >= 256/len(codeLetters)*len(codeLetters) { // every letter alike likely
				continue
			}
			code = append(code, codeLetters[int(b[0])%len(codeLetters)])
		}
		if !taken[string(code)] {
			taken[string(code)] = true
			return string(code), nil
		}
	}
	return "", errors.New("the random source keeps repeating itself")
}

func loadCodes(path string) (Codes, map[string]bool, error) {
	codes := Codes{Person: map[string]string{}, Staff: map[string]string{}}
	taken := map[string]bool{}
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
			if strings.Join(row, ",") != "kind,value,code" {
				return codes, taken, errors.New("the header is not kind,value,code")
			}
			continue
		}
		row[1] = asTyped(row[1])
		into := map[string]map[string]string{"person": codes.Person, "staff": codes.Staff}[row[0]]
		switch {
		case into == nil:
			return codes, taken, fmt.Errorf("line %d: the kind is neither person nor staff", i+1)
		case row[1] == "" || row[2] == "":
			return codes, taken, fmt.Errorf("line %d: a value or a code is missing", i+1)
		case into[row[1]] != "" || taken[row[2]]:
			return codes, taken, fmt.Errorf("line %d: the value or its code stands there twice", i+1)
		}
		into[row[1]] = row[2]
		taken[row[2]] = true
	}
	if len(rows) == 0 {
		return codes, taken, errors.New("the file is empty")
	}
	return codes, taken, nil
}

// saveCodes writes the key file in the order of the codes, which tells
// nothing about the order in which people came.
func saveCodes(path string, codes Codes) error {
	var rows [][]string
	for _, kind := range []struct {
		name string
		m    map[string]string
	}{{"person", codes.Person}, {"staff", codes.Staff}} {
		part := make([][]string, 0, len(kind.m))
		for v, c := range kind.m {
			part = append(part, []string{kind.name, v, c})
		}
		sort.Slice(part, func(i, j int) bool { return part[i][2] < part[j][2] })
		rows = append(rows, part...)
	}
	return writeWhole(path, func(w io.Writer) error {
		return writeInert(w, slices.Values(append([][]string{{"kind", "value", "code"}}, rows...)))
	})
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
