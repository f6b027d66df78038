package ingest

import (
	"context"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"unicode/utf16"
)

// wide is a text in UTF-16.
func wide(order binary.AppendByteOrder, text string) string {
	var b []byte
	for _, u := range utf16.Encode([]rune(text)) {
		b = order.AppendUint16(b, u)
	}
	return string(b)
}

// TestTextTables reads the same two limbs from each way in which a program
// may have written them.
func TestTextTables(t *testing.T) {
	const plainTable = "person,side,level,programme\nP1,L,BK,vascular\nP2,R,AK,\"trauma, young\"\n"
	with := func(sep string) string {
		return strings.NewReplacer(`"trauma, young"`, "trauma, young", ",vascular", sep+"vascular", "P1,L,", "P1"+sep+"L"+sep, "P2,R,AK,", "P2"+sep+"R"+sep+"AK"+sep,
			"person,side,level,programme", strings.Join([]string{"person", "side", "level", "programme"}, sep)).Replace(plainTable)
	}
	accents := strings.ReplaceAll(plainTable, "vascular", "général")
	tests := []struct {
		name, file, text, programme string
		problems                    []string
	}{
		{name: "comma", text: plainTable},
		{name: "semicolon", text: with(";")},
		{name: "tab", text: with("\t")},
		{name: "tab in .tsv", file: "limbs.tsv", text: with("\t")},
		{name: "comma in .tsv", file: "limbs.tsv", text: plainTable},
		{name: "bar in .txt", file: "Limbs.TXT", text: with("|")},
		{name: "sep line", text: "sep=|\n" + with("|")},
		{name: "sep line, bare CR", text: strings.ReplaceAll("SEP=;\n"+with(";"), "\n", "\r")},
		{name: "CR LF", text: strings.ReplaceAll(plainTable, "\n", "\r\n")},
		{name: "bare CR", text: strings.ReplaceAll(plainTable, "\n", "\r")},
		{name: "no line end at the end", text: strings.TrimSuffix(plainTable, "\n")},
		{name: "UTF-8", text: accents, programme: "général"},
		{name: "UTF-8 with a mark", text: "\ufeff" + accents, programme: "général"},
		{name: "UTF-16 LE", text: "\xff\xfe" + wide(binary.LittleEndian, accents), programme: "général", problems: []string{"encoding"}},
		{name: "UTF-16 BE", text: "\xfe\xff" + wide(binary.BigEndian, accents), programme: "général", problems: []string{"encoding"}},
		{name: "UTF-16 LE without a mark", text: wide(binary.LittleEndian, accents), programme: "général", problems: []string{"encoding"}},
		{name: "UTF-16 BE without a mark", text: wide(binary.BigEndian, accents), programme: "général", problems: []string{"encoding"}},
		{name: "Windows-1252", text: strings.ReplaceAll(accents, "é", "\xe9"), programme: "général", problems: []string{"encoding"}},
		{name: "quoted line end", text: strings.ReplaceAll(plainTable, ",vascular", ",\"vascular\r\nclinic\""), programme: "vascular clinic"},
		{name: "quoted bare CR", text: strings.ReplaceAll(plainTable, ",vascular", ",\"vascular\rclinic\""), programme: "vascular clinic"},
		{name: "quote doubled", text: strings.ReplaceAll(plainTable, ",vascular", `,"the ""old"" clinic"`), programme: `the "old" clinic`},
		{name: "quote within a bare cell", text: strings.ReplaceAll(plainTable, ",vascular", `,the "old" clinic`), programme: `the "old" clinic`},
		{name: "space behind the closing quote", text: strings.ReplaceAll(plainTable, `young"`, `young" `)},
		{name: "empty lines", text: "\n" + strings.ReplaceAll(plainTable, "\n", "\n\n")},
		{name: "empty cells at the ends", text: strings.ReplaceAll(plainTable, "\n", ",,\n")},
		{name: "short row", text: plainTable + "P3\n", problems: []string{"missing-value", "missing-value"}},
		{name: "a separator too many", text: plainTable + "P3,L,BK,trauma, old\n", problems: []string{"ragged-row"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			file, programme := tt.file, tt.programme
			if file == "" {
				file = "limbs.csv"
			}
			if programme == "" {
				programme = "vascular"
			}
			log := read(t, Options{}, writeText(t, file, tt.text))
			if len(log.Limbs) != 2 {
				t.Fatalf("%d limbs; %v", len(log.Limbs), log.Problems)
			}
			a, b := log.Limbs[0], log.Limbs[1]
			if a.Person != "P1" || a.Side.Code != "left" || a.Level.Code != "transtibial" || a.Programme != programme || b.Person != "P2" || b.Programme != "trauma, young" {
				t.Errorf("read %+v\nand %+v", a, b)
			}
			var codes []string
			for _, p := range log.Problems {
				codes = append(codes, p.Code)
			}
			if !reflect.DeepEqual(codes, tt.problems) {
				t.Errorf("problems %v, want %v", log.Problems, tt.problems)
			}
		})
	}
}

// TestRaggedRows tells a separator too many in a few rows from a column
// without a header and from a note at the side.
func TestRaggedRows(t *testing.T) {
	stations := "limb,date,landmark,station_mm,limb_mm\n" +
		"L1,2024-01-05,MPT,0,325\nL1,2024-01-05,MPT,50,318\nL1,2024-01-05,MPT,100,31,5\nL1,2024-01-05,MPT,150,290\n"
	limbs := writeText(t, "limbs.csv", "person,limb,side,level\nP1,L1,L,BK\n")
	log := read(t, Options{}, limbs, writeText(t, "stations.csv", stations))
	if got := found(log); len(log.Stations) != 3 || !reflect.DeepEqual(got, []string{"!F4 ragged-row row set aside"}) {
		t.Errorf("%d stations, %v", len(log.Stations), log.Problems)
	}
	noted := strings.Replace(stations, "31,5", "315", 1)
	noted = strings.Replace(noted, "50,318", "50,318,,look again", 1)
	log = read(t, Options{}, limbs, writeText(t, "stations.csv", noted))
	if len(log.Stations) != 4 || len(problemsOf(log, CodeRaggedRow)) > 0 || len(problemsOf(log, CodeNoHeader)) != 1 {
		t.Errorf("%d stations, %v", len(log.Stations), log.Problems)
	}
	column := strings.NewReplacer("325\n", "325,a\n", "318\n", "318,b\n", "31,5", "315", "290\n", "290,c\n").Replace(stations)
	log = read(t, Options{}, limbs, writeText(t, "stations.csv", column))
	if len(log.Stations) != 4 || len(log.Own[TableStations]) != 1 || len(problemsOf(log, CodeNoHeader)) != 1 {
		t.Errorf("%d stations, own %v, %v", len(log.Stations), log.Own, log.Problems)
	}
}

// TestTextFaults says of each text that is no table which file and line to
// look at.
func TestTextFaults(t *testing.T) {
	head := "person,side,level\nP1,L,BK\n"
	tests := []struct {
		name, file, text string
		want             error
		says             []string
	}{
		{name: "quote never closed", text: head + "P2,R,\"AK\nP3,L,BK\n", want: ErrBadCSV, says: []string{"line 3", "never closed"}},
		{name: "quote never closed, below a quoted line end", text: "person,side,level,programme\nP1,L,BK,\"a\nb\"\nP2,R,AK,\"x\n", want: ErrBadCSV, says: []string{"line 4"}},
		{name: "quote never closed, bare CR", text: strings.ReplaceAll("sep=,\n"+head+"P2,R,\"AK\n", "\n", "\r"), want: ErrBadCSV, says: []string{"line 4"}},
		{name: "quote missing", text: head + "P2,R,\"AK\nP3,L,BK\nP4,L,\"BK\"\n", want: ErrBadCSV, says: []string{"line 3", "line 5", "missing in between"}},
		{name: "zero byte", text: head + "P2,R,A\x00K\n", want: ErrBadCSV, says: []string{"line 3", "zero byte"}},
		{name: "zero byte far down", text: head + strings.Repeat("P2,R,AK\n", 20000) + "\x00", want: ErrBadCSV, says: []string{"line 20003"}},
		{name: "zero bytes all over", text: "PNG\x00\x00\x00\x0d\x00\x01IHDR\x00\x00", want: ErrWrongKind, says: []string{"holds no text"}},
		{name: "UTF-16 cut within a character", text: "\xff\xfe" + wide(binary.LittleEndian, head) + "P", want: ErrBadCSV, says: []string{"UTF-16", "cut short"}},
		{name: "nothing", want: ErrEmpty},
		{name: "workbook by another name", text: "PK\x03\x04\x14\x00", want: ErrWrongKind, says: []string{"workbook", "rename it to .xlsx"}},
		{name: "workbook called .tsv", file: "limbs.tsv", text: "PK\x03\x04\x14\x00", want: ErrWrongKind, says: []string{"rename it to .xlsx"}},
		{name: "table called .xlsx", file: "limbs.xlsx", text: head, want: ErrWrongKind, says: []string{"rename it to .csv"}},
		{name: "table called .dat", file: "limbs.dat", text: head, want: ErrWrongKind, says: []string{".csv"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			file := tt.file
			if file == "" {
				file = "limbs.csv"
			}
			path := writeText(t, file, tt.text)
			_, err := Read(context.Background(), []string{path}, Options{})
			if !errors.Is(err, tt.want) {
				t.Fatalf("got %v, want %v", err, tt.want)
			}
			for _, part := range append(tt.says, path) {
				if !strings.Contains(err.Error(), part) {
					t.Errorf("%q does not say %q", err, part)
				}
			}
		})
	}
}

// TestSocketInTwoFiles reconciles files that state the same socket: a row that
// is the same in every field counts once, one with other values is set aside
// and names the cell of the first with its file, by its folder where the files
// are called alike.
func TestSocketInTwoFiles(t *testing.T) {
	dir := t.TempDir()
	put := func(name, text string) string {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	limbs := put("limbs.csv", "person,limb,side,level\nP1,L1,L,BK\n")
	first := put("2024/sockets.csv", "socket,limb,kind,delivered\nS1,L1,def,2024-02-01\nS2,L1,def,2024-06-01\nS3,L1,check,2024-05-01\n")
	second := put("2025/sockets.csv", "delivered;kind;limb;socket\n2024-02-01;definitive;L1;S1\n2024-06-03;def;L1;S2\n2025-01-07;def;L1;S4\n")
	third := put("2025/Sockets (2).tsv", "socket\tlimb\tkind\tdelivered\nS4\tL1\tdefinitive\t2025-01-08\n")
	log := read(t, Options{}, limbs, first, second, third)
	if len(log.Sockets) != 4 || log.Sockets[1].Delivered.Value.String() != "2024-06-01" {
		t.Errorf("sockets %+v", log.Sockets)
	}
	var got []string
	for _, p := range log.Problems {
		if p.Done == RowSetAside {
			got = append(got, filepath.Base(p.File)+"!"+p.Cell+" "+p.Code)
		}
	}
	if want := []string{"sockets.csv!D2 duplicate-row", "sockets.csv!D3 same-identifier", "Sockets (2).tsv!A2 same-identifier"}; !reflect.DeepEqual(got, want) {
		t.Fatalf("set aside %v, want %v", got, want)
	}
	for _, tt := range []struct{ code, says string }{
		{CodeDuplicateRow, "identical in every field to " + first + " A2"},
		{CodeSameID, `socket "S2" stands already in ` + first + " A3"},
		{CodeSameID, `socket "S4" stands already in sockets.csv D4`},
	} {
		if !strings.Contains(joined(problemsOf(log, tt.code)), tt.says) {
			t.Errorf("no problem %s says %q: %v", tt.code, tt.says, problemsOf(log, tt.code))
		}
	}
}

func joined(ps []Problem) string {
	var lines []string
	for _, p := range ps {
		lines = append(lines, p.Text)
	}
	return strings.Join(lines, "\n")
}

func TestInert(t *testing.T) {
	for _, text := range []string{"=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "'=1", "''=1", "\u00a0=1", "＝1+1", "\u200b=1", "-"} {
		out := inert(text)
		if !strings.HasPrefix(out, "'") || asTyped(out) != text {
			t.Errorf("%q became %q and came back as %q", text, out, asTyped(out))
		}
	}
	for _, text := range []string{"", "S1", "5+3", "'t Hooft", "'", "12-3", "a=1", "#N/A", "(=1)", `"=1"`, "é=1"} {
		if inert(text) != text || asTyped(text) != text {
			t.Errorf("%q became %q and %q", text, inert(text), asTyped(text))
		}
	}
}
