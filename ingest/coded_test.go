package ingest

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// testCoder gives the same codes in every run of a test.
func testCoder(t testing.TB) *Coder {
	t.Helper()
	c, err := OpenCodes(filepath.Join(t.TempDir(), CodesFile), rand.NewChaCha8([32]byte{7}))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

const codedIntake = `sheets:
  - sheet: wide
    limbs:
      person: {coded: [Surname, First name, Born]}
      side: Side
      level: {is: transtibial}
      born: Born
    sockets:
      socket: {made: [limb, delivered]}
      kind: {is: definitive}
      delivered: Delivered
    visits:
      date: Seen
      ply: Ply
      seen_by: {coded: By}
    own:
      limbs: [Shoe, {coded: Referrer}]
`

// Every name is invented; Ossian Thrupp and OSSIAN  THRUPP are one, and two
// are slips.
const codedSheet = `Surname,First name,Born,Side,Delivered,Seen,Ply,By,Shoe,Referrer
Thrupp,Ossian,1950-03-02,L,2024-01-01,2024-02-01,1,Wynne Dace,43,Dr Lamprey
THRUPP,ossian ,2 March 1950,L,2024-01-01,2024-03-01,2,wynne dace,43,Dr. Lamprey
Thrupp,Ossain,1950-03-02,L,2024-01-01,2024-04-01,3,Wynne Dace,43,Dr Lamprey
Gannet,Hesper,1961-07-09,R,2024-02-01,2024-03-01,many,Jory Pell,39,Dr Merle
Gannet,Hesper,1961-07-06,R,2024-02-01,2024-05-01,2,Jory Pell,39,
Gannet,Hesper,1984-12-30,R,2024-02-05,2024-06-01,2,Jory Pell,38,Dr Merle
,,,L,2024-02-01,2024-05-01,2,Jory Pell,40,Dr Merle
`

var codedSecrets = []string{"thrupp", "ossian", "ossain", "gannet", "hesper", "dace", "wynne", "jory pell", "jory", "lamprey", "merle", "1950-03", "1961-0", "1984-1"}

var personCode = regexp.MustCompile(`^P-[` + codeLetters + `]{5}$`)

func TestCodesStandForNamesFromTheDoorOn(t *testing.T) {
	it, err := ParseIntake("intake.yaml", []byte(codedIntake))
	if err != nil {
		t.Fatal(err)
	}
	path := writeText(t, "wide.csv", codedSheet)
	if _, err := Read(context.Background(), []string{path}, Options{Intake: it}); !errors.Is(err, ErrNoCodes) {
		t.Errorf("without codes: %v", err)
	}
	coder := testCoder(t)
	log, err := Read(context.Background(), []string{path}, Options{Intake: it, Codes: coder})
	if err != nil {
		t.Fatal(err)
	}
	checkIntakeLedger(t, log)
	persons := map[string]bool{}
	for _, l := range log.Limbs {
		if !personCode.MatchString(l.Person) || l.Limb != l.Person+"-"+strings.ToUpper(l.Side.Code[:1]) {
			t.Errorf("limb %q of %q", l.Limb, l.Person)
		}
		persons[l.Person] = true
	}
	if len(persons) != 5 || len(log.Visits) != 6 || log.Visits[0].Socket != log.Visits[1].Socket {
		t.Errorf("%d persons, want 5 (two spellings are one); visits %+v", len(persons), log.Visits)
	}
	by := map[string]int{}
	for _, v := range log.Visits {
		by[v.SeenBy]++
	}
	own := log.Own[TableLimbs][1]
	if len(by) != 2 || !own.Coded || own.Identifying || own.Kind != OwnText || !strings.HasPrefix(own.Text[0], "X-") || own.Text[0] != own.Text[1] || own.OK[3] {
		t.Errorf("staff %v, own column %+v", by, own)
	}
	var got []string
	text := fmt.Sprintf("%+v", *log)
	for _, p := range log.Problems {
		text += p.String() + p.Found + p.Want
		if p.Code == CodeAlike {
			got = append(got, p.Cell+" "+p.Text)
		}
	}
	for _, secret := range codedSecrets {
		if strings.Contains(strings.ToLower(text), secret) {
			t.Errorf("%q stands in the log or its problems", secret)
		}
	}
	want := []string{
		"A4 the value is nearly that of A2: one letter differs; they have a code each, so if they are one, write them alike.",
		"A6 the value is nearly that of A5: one figure differs, or two stand the other way round; they have a code each, so if they are one, write them alike.",
	}
	if !slices.Equal(got, want) {
		t.Errorf("alike:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if fresh := coder.Fresh(); fresh != 9 {
		t.Errorf("%d codes were made, want 5 persons, 2 staff and 2 referrers", fresh)
	}

	// The same codes the next time, and one more for somebody new.
	file := filepath.Join(t.TempDir(), CodesFile)
	if err := coder.Save(file); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v %v", info, err)
	}
	again, err := OpenCodes(file, nil)
	if err != nil {
		t.Fatal(err)
	}
	path = writeText(t, "wide.csv", codedSheet+"Auk,Bran,1970-01-01,L,2024-02-01,2024-05-01,2,Jory Pell,40,\n")
	next, err := Read(context.Background(), []string{path}, Options{Intake: it, Codes: again})
	if err != nil {
		t.Fatal(err)
	}
	if again.Fresh() != 1 || len(next.Limbs) != len(log.Limbs)+1 {
		t.Errorf("%d codes were made the second time", again.Fresh())
	}
	for i, l := range log.Limbs {
		if next.Limbs[i].Person != l.Person {
			t.Errorf("%q became %q", l.Person, next.Limbs[i].Person)
		}
	}
	// A name that was mended keeps its person's code only if the file of codes
	// is mended too; that is said at its cell.
	mended, err := OpenCodes(file, nil)
	if err != nil {
		t.Fatal(err)
	}
	path = writeText(t, "wide.csv", strings.ReplaceAll(codedSheet, "1984-12-30", "1984-12-31"))
	if next, err = Read(context.Background(), []string{path}, Options{Intake: it, Codes: mended}); err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(found(next), "\n"); !strings.Contains(got, "A7 "+CodeAlike) || mended.Fresh() != 1 {
		t.Errorf("%d codes, problems:\n%s", mended.Fresh(), got)
	}
}

// Each pair is or is not to be asked about. The names are invented; that such
// slips are what makes two records of one person is common practice, no source.
func TestValuesNearlyAlike(t *testing.T) {
	for _, c := range []struct{ a, b, how string }{
		{"Ossian Thrupp", "Ossain Thrupp", "one letter differs"},
		{"Ossian Thrupp", "Osian Thrupp", "one letter differs"},
		{"Ossian Thrupp", "Thrupp, Ossian", "the same words in another order"},
		{"O. Thrupp", "Ossian Thrupp", "an initial for a name"},
		{"Ossian Thrupp", "Ossian Percy Thrupp", "one of the names is left out"},
		{"Jörg Müller", "Jorg Muller", "accents or marks differ"},
		{"Jörg Möller", "Joerg Moeller", "accents or marks differ"},
		{"Søren Vad", "Soren Vad", "accents or marks differ"},
		{"MRN 0012345", "MRN12345", "zeros in front, or figures set apart otherwise"},
		{"123 456", "123456", "zeros in front, or figures set apart otherwise"},
		{"Thrupp | Ossian | 1950-03-02", "Thrupp | Ossian | 1950-02-03", "one figure differs, or two stand the other way round"},
		{"Thrupp | Ossian | 1950-03-02", "Thrupp | Ossian | ", "one of the cells beside it is blank"},
		{"Thrupp | Ossian", "Ossian | Thrupp", "the same words in another order"},
		{"Thrupp | Ana", "Thrupp | Anna", "one letter differs"},
		{"Ossian Thrupp", "Hesper Thrupp", ""},
		{"100234", "100235", ""}, // record numbers in a row are different people
		{"Thrupp | Ossian | 1950-03-02", "Thrupp | Ossian | 1984-12-30", ""},
		{"JB", "JD", ""},
		{"Ossian Thrupp", "Ossian", ""},
		{"Thrupp | Ossian | 1950-03-02", "Thrupp | Ossain | 1950-03-03", ""},
	} {
		value := func(s string) *codedValue { return &codedValue{parts: strings.Split(s, partJoint)} }
		for _, pair := range [][]*codedValue{{value(c.a), value(c.b)}, {value(c.b), value(c.a)}} {
			how := ""
			if pairs := alikePairs(pair); len(pairs) > 0 {
				how = pairs[0].how
			}
			if how != c.how {
				t.Errorf("%v and %v: %q, want %q", pair[0].parts, pair[1].parts, how, c.how)
			}
		}
	}
}

func TestWhatIsOneValue(t *testing.T) {
	for _, c := range []struct {
		a, b string
		one  bool
	}{
		{"Ossian Thrupp", " ossian  THRUPP", true},
		{"O'Hara", "OHARA", true},
		{"Ann-Mari Dace", "Ann Mari Dace", true},
		{"Zo\u00eb", "Zoe\u0308", true}, // one letter, or two put together
		{"１２３", "123", true},            // full width
		{"MRN 123", "mrn-123", true},
		{"1-23", "12-3", false},
		{"1 23", "123", false},
		{"007", "7", false},
		{"Zoë", "Zoe", false},
		{"a | bc", "ab | c", false},
	} {
		if got := identityKey(c.a) == identityKey(c.b); got != c.one {
			t.Errorf("%q and %q: one is %v, keys %q and %q", c.a, c.b, got, identityKey(c.a), identityKey(c.b))
		}
	}
}

// TestCodedFaults damages a sound intake with codes.
func TestCodedFaults(t *testing.T) {
	for _, c := range []struct{ old, with, text string }{
		{"side: Side", "side: {coded: Side}", "not for `side`"},
		{"      side: Side\n", "      side: Side\n      limb: {coded: Surname}\n", "leave `limb` out"},
		{"[Surname, First name, Born]", "[]", "takes the header"},
		{"[Surname, First name, Born]", "[Surname, Frist name]", "did you mean \"First name\"?"},
		{"[Surname, First name, Born]", "Surname, column: Born", "exactly one of column, coded"},
		{"[Surname, First name, Born]", "?", "question"},
		{"delivered: Delivered", "delivered: Delivered\n      site: Surname", "replaced by codes on line 4 and cannot be read as site too"},
		{"[Shoe, {coded", "[First name, {coded", "cannot be read as an own column too"},
		{"{coded: Referrer}", "{codes: Referrer}", "no key \"codes\""},
		{"socket: {made: [limb, delivered]}", "socket: Shoe\n      replaces: {coded: Ply}", "`socket` is replaced by codes on line 10 and not here"},
		{"    own:", "  - sheet: wide\n    limbs:\n      person: Surname\n      side: Side\n      level: {is: transtibial}\n    own:", "so that one person would be two"},
		{"    own:", "  - sheet: wide\n    limbs:\n      person: {coded: Surname}\n      side: Side\n      level: {is: transtibial}\n    own:", "told by 1 here and by 3 on line 4"},
	} {
		text := strings.Replace(codedIntake, c.old, c.with, 1)
		if text == codedIntake {
			t.Fatalf("%q is not part of the intake", c.old)
		}
		if _, err := readByIntake(t, text, codedSheet); !errors.Is(err, ErrIntake) || !strings.Contains(err.Error(), c.text) {
			t.Errorf("%q: %v\nwant %q", c.with, err, c.text)
		}
	}
}

// Another sheet names its limbs by the person, who is then looked up by code.
func TestCodesMeetAcrossSheets(t *testing.T) {
	it, err := ParseIntake("intake.yaml", []byte(`sheets:
  - sheet: people
    limbs: {person: {coded: Name}, side: Side, level: {is: transtibial}}
  - sheet: made
    sockets: {socket: {coded: Job}, limb: {coded: Who}, kind: {is: definitive}, delivered: Out}
  - sheet: seen
    visits: {socket: {coded: Job}, date: Day, ply: Ply}
`))
	if err != nil {
		t.Fatal(err)
	}
	files := []string{
		writeText(t, "people.csv", "Name,Side\nOssian Thrupp,L\nHesper Gannet,R\n"),
		writeText(t, "made.csv", "Job,Who,Out\nThrupp 1,ossian thrupp,2024-01-01\nGannet 1,Hesper Gannet,2024-02-01\nGannet 2,Nobody Known,2024-02-01\n"),
		writeText(t, "seen.csv", "Job,Day,Ply\nthrupp 1,2024-02-01,2\nGannet-1,2024-03-01,#N/A\n"),
	}
	log, err := Read(context.Background(), files, Options{Intake: it, Codes: testCoder(t)})
	if err != nil {
		t.Fatal(err)
	}
	checkIntakeLedger(t, log)
	if len(log.Limbs) != 2 || len(log.Sockets) != 2 || len(log.Visits) != 2 {
		t.Fatalf("%d limbs, %d sockets, %d visits: %v", len(log.Limbs), len(log.Sockets), len(log.Visits), found(log))
	}
	for i, s := range log.Sockets {
		if s.Limb != log.Limbs[i].Limb || log.Visits[i].Socket != s.Socket || !strings.HasPrefix(s.Socket, "K-") {
			t.Errorf("socket %q for %q, visit about %q", s.Socket, s.Limb, log.Visits[i].Socket)
		}
	}
	text := fmt.Sprintf("%+v", *log)
	for _, secret := range []string{"Thrupp", "thrupp", "Gannet", "Nobody"} {
		if strings.Contains(text, secret) {
			t.Errorf("%q stands in the log: %s", secret, text)
		}
	}
}

// A formula that failed is not a name, and the same cell twice is one
// problem at most.
func TestCodedCellsThatHoldNothing(t *testing.T) {
	log, err := readByIntake(t, strings.Replace(codedIntake, "[Surname, First name, Born]", "Surname", 1), strings.Replace(codedSheet, "Gannet,Hesper,1961-07-09", "#REF!,Hesper,1961-07-09", 1))
	if err != nil {
		t.Fatal(err)
	}
	checkIntakeLedger(t, log)
	if len(log.Limbs) != 2 { // Thrupp and Gannet by surname alone
		t.Errorf("%d limbs", len(log.Limbs))
	}
}

// An intake takes its codes out again where they could not meet.
func TestProposalWithoutCodesWherePeopleAreToldOtherwise(t *testing.T) {
	head := ",Side,Level,Type,Delivered,Date,Ply,SCS\n"
	rows := ",L,BK,def,2024-01-01,2024-02-01,1,7\n"
	one := writeText(t, "one.csv", "Patient name"+head+"Ossian Thrupp"+rows+"Hesper Gannet"+rows)
	two := writeText(t, "two.csv", "Surname,First name"+head+"Thrupp,Ossian"+rows+"Gannet,Hesper"+rows)
	for _, c := range []struct {
		files []string
		coded string
	}{{[]string{one}, "{coded: Patient name}"}, {[]string{two}, "{coded: [Surname, First name]}"}, {[]string{one, two}, ""}} {
		p, err := ProposeIntake(context.Background(), c.files)
		if err != nil {
			t.Fatal(err)
		}
		text := p.Text()
		if _, err := ParseIntake("intake.yaml", []byte(text)); err != nil {
			t.Errorf("the proposal is at fault: %v", err)
		}
		if c.coded != "" && !strings.Contains(text, "person: "+c.coded) || c.coded == "" && (strings.Contains(text, "person: {coded") || !strings.Contains(text, "in several ways")) {
			t.Errorf("%q is not proposed:\n%s", c.coded, text)
		}
	}
}

func TestShiftsAreDrawnOnceAndWithinBounds(t *testing.T) {
	c := testCoder(t)
	var persons []string
	for i := range 400 {
		persons = append(persons, fmt.Sprintf("person %d", i))
	}
	if err := c.Add(persons, nil); err != nil {
		t.Fatal(err)
	}
	var codes []string
	for _, p := range persons {
		codes = append(codes, c.Codes().Person[p])
	}
	if err := c.DrawShifts(codes, 6); err == nil {
		t.Error("a shift below a week was drawn")
	}
	if err := c.DrawShifts(codes, 30); err != nil {
		t.Fatal(err)
	}
	count := map[int]int{}
	for _, code := range codes {
		count[c.Codes().Shift[code]]++
	}
	// Four weeks to either side, never 0, each 50 times in 400 give or take
	// four standard deviations of 6.6.
	if len(count) != 8 || count[0] != 0 {
		t.Errorf("shifts drawn: %v", count)
	}
	for days, n := range count {
		if days%7 != 0 || days < -28 || days > 28 || n < 24 || n > 76 {
			t.Errorf("%d days were drawn %d times", days, n)
		}
	}
	path := filepath.Join(t.TempDir(), CodesFile)
	if err := c.Save(path); err != nil {
		t.Fatal(err)
	}
	again, err := OpenCodes(path, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := again.DrawShifts(codes, 365); err != nil {
		t.Fatal(err)
	}
	for _, code := range codes {
		if again.Codes().Shift[code] != c.Codes().Shift[code] {
			t.Fatalf("the shift of %s changed", code)
		}
	}
	if err := again.DrawShifts(codes, 14); !errors.Is(err, ErrShift) {
		t.Errorf("a limit below what was drawn: %v", err)
	}
	if err := again.DrawShifts(codes, 5000); err == nil {
		t.Error("a shift of years was drawn")
	}
}
