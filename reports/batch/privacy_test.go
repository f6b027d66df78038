package batch

import (
	"archive/zip"
	"bytes"
	"compress/zlib"
	"context"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"plybook/ingest"
	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/numbers"
	"plybook/reports/study"
)

// surnames make the names of a log that calls people by name.
var surnames = []string{"Bergstrand", "Okonjowa", "Featherby", "Quillfarth", "Marchetto", "Lindqvister", "Abernethon", "Vasiljevik", "Thorncroft", "Yamadashi", "Delacroy", "Oyelaranti", "Petrakos", "Hollinside"}

var firstNames = []string{"Anneliese", "Bartholo", "Clementia", "Desmondo", "Evangela", "Florentin"}

// namedLog writes a log as a lab may keep it that has never heard of codes:
// names, record numbers, telephones, addresses, birth dates, and rows with
// defects. It returns what must reach no output.
func namedLog(t *testing.T, dir string) (secrets []string) {
	t.Helper()
	var limbs, sockets, visits, stations strings.Builder
	limbs.WriteString("person,limb,side,level,cause,born,sex,mrn,phone,email,date of birth,next of kin,last_seen\n")
	sockets.WriteString("socket,limb,kind,cast_method,cast_by,shaped_by,delivered,ended,end_reason,patient note\n")
	visits.WriteString("visit,socket,date,purpose,ply,comfort,seen_by\n")
	stations.WriteString("limb,date,landmark,station_mm,limb_mm,measured_by\n")
	staff := []string{"Rosamund Tillbrook", "Ignatius Wexcombe"}
	secrets = append(secrets, "Rosamund", "Tillbrook", "Ignatius", "Wexcombe", "example.org", "Dorothea")
	for i := range 40 {
		first, last := firstNames[i%len(firstNames)], surnames[i%len(surnames)]
		name := fmt.Sprintf("%s %s%s", first, last, strings.Repeat("x", i/14))
		limb := name + " leg"
		mrn := fmt.Sprintf("44711%05d", 137*i)
		phone := fmt.Sprintf("07700 90%04d", 31*i)
		birth := fmt.Sprintf("%d-03-%02d", 1930+i, 1+i%28)
		secrets = append(secrets, first, last, mrn, phone, birth)
		fmt.Fprintf(&limbs, "%s,%s,left,TT,trauma,%s,male,%s,%s,%s@example.org,%s,Dorothea %s,2024-12-01\n", name, limb, birth, mrn, phone, strings.ToLower(last), birth, last)
		socket := fmt.Sprintf("%s %d", name, i)
		ended, reason := "", ""
		if i%2 == 0 {
			ended, reason = fmt.Sprintf("2024-%02d-15", 3+i%9), "volume loss"
		}
		fmt.Fprintf(&sockets, "%s,%s,definitive,%s,%s,%s,2023-%02d-10,%s,%s,rang %s\n", socket, limb, []string{"hand", "vacuum"}[i%2], staff[i%2], staff[1-i%2], 1+i%12, ended, reason, first)
		for k := range 3 {
			fmt.Fprintf(&visits, "%s visit %d,%s,2024-0%d-1%d,follow-up,%d,%d,%s\n", name, k, socket, 1+k, k, 2+k, 9-k, staff[k%2])
			fmt.Fprintf(&stations, "%s,2024-0%d-1%d,patella,%d,%d,%s\n", limb, 1+k, k, 40*k, 320-10*k, staff[k%2])
		}
	}
	// Defects: an unknown limb, a date that is none, rows of one name with
	// other values, a visit to no socket, a future date.
	fmt.Fprintf(&limbs, "Anneliese Bergstrand,Anneliese Bergstrand leg,right,TF,vascular,1931,female,1,2,3,4,5,\n")
	fmt.Fprintf(&sockets, "Anneliese Bergstrand 0,Clementia Featherby leg,check,hand,Rosamund Tillbrook,,2023-01-01,,,\n")
	fmt.Fprintf(&sockets, "Evangela Nobodyson 99,Evangela Nobodyson leg,definitive,hand,Rosamund Tillbrook,,31/31/2023,2010-01-01,volume loss,\n")
	fmt.Fprintf(&visits, "v,Florentin Nobodyson 5,2024-01-01,follow-up,lots,99,Rosamund Tillbrook\n")
	fmt.Fprintf(&stations, "Desmondo Nobodyson leg,2024-01-01,patella,10,300,Rosamund Tillbrook\n")
	secrets = append(secrets, "Nobodyson")
	for name, b := range map[string]*strings.Builder{"limbs": &limbs, "sockets": &sockets, "visits": &visits, "stations": &stations} {
		if err := os.WriteFile(filepath.Join(dir, name+".csv"), []byte(b.String()), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return secrets
}

// prying are asks that name, list or choose single people and staff, beside
// ordinary ones.
var prying = []string{
	"method: kaplan-meier\nby: cast_method\ntimes: [1y]",
	"method: kaplan-meier\nby: limb",
	"method: kaplan-meier\nby: person",
	"method: kaplan-meier\nkeep: {person: Anneliese Bergstrand}",
	"method: kaplan-meier\nkeep: {person: Anneliese Bergstran}",
	"method: kaplan-meier\nkeep: {socket: [Anneliese Bergstrand 0, other]}",
	"method: kaplan-meier\nby: cast_by",
	"method: kaplan-meier\nkeep: {cast_by: Rosamund Tillbrook}",
	"method: kaplan-meier\nkeep: {any: [{seen_by: Rosamund Tilbrook}, {cast_by: Rosamund Tilbrook}]}",
	"method: kaplan-meier\nevent: {seen_by: Rosamund Tillbrook}\nseen_as_exact: true",
	"method: kaplan-meier\nby: seen_by\nlandmark: 30d",
	"method: turnbull\nevent: {seen_by: Rosamund Tillbrook}",
	"method: mean-cumulative\nrows: limbs\nevent: {seen_by: Rosamund Tillbrook}",
	"method: kaplan-meier\nby: visit\nlandmark: 30d",
	"method: cox\nby: cast_method\nstrata: [limb]",
	"method: cox\nby: limb",
	"method: cox\nby: cast_method\ncluster: limb",
	"method: cox\nby: shaped_by",
	"method: cumulative-incidence\nby: limb",
	"method: linear\nrows: visits\noutcome: comfort\nby: limb",
	"method: linear\nrows: visits\noutcome: comfort\nadjust: [ply]\ncluster: seen_by",
	"method: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery",
	"method: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery\nwithin: seen_by",
	"method: mixed\nrows: visits\noutcome: comfort\ntime: days_since_delivery\nwithin: person",
	"method: pareto\nrows: sockets\nby: limb",
	"method: pareto\nrows: visits\nby: seen_by",
	"method: pareto\nrows: stations\nby: measured_by",
	"method: pareto\nrows: sockets\nby: own.patient note",
	"method: summary\nrows: limbs\ncolumns: [person, limb]",
	"method: summary\nrows: limbs\ncolumns: [age, born, own.mrn]",
	"method: summary\nrows: limbs\ncolumns: [own.phone]",
	"method: summary\nrows: limbs\ncolumns: [email]",
	"method: summary\nrows: limbs\ncolumns: [own.date of birth]",
	"method: summary\nrows: limbs\ncolumns: [own.next of kin]",
	"method: summary\nrows: limbs\ncolumns: [age, born]",
	"method: summary\nrows: visits\ncolumns: [comfort]\nby: seen_by",
	"method: control-chart\nrows: visits\nnumerator: {seen_by: Rosamund Tillbrook}\nperiod: month",
	"method: control-chart\nrows: visits\nnumerator: {comfort: ..7}\ndenominator: {socket: known}\nperiod: month",
	"method: flow\nkeep: {limb: Anneliese Bergstrand leg}",
	"method: flow\nevent: remake",
}

func pryingNotebook(audience string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "---\ntitle: A report\naudience: %s\nlog: [log/*.csv]\n---\n\nProse.\n", audience)
	for i, a := range prying {
		fmt.Fprintf(&b, "\n```ask\nid: q%d\n%s\n```\n", i, a)
	}
	return b.String()
}

// TestNamesReachNoOutput runs reports on a log that calls people by name:
// none of it stands in any byte that is written, whoever the report is for,
// before codes are made and after.
func TestNamesReachNoOutput(t *testing.T) {
	for _, codes := range []bool{false, true} {
		for _, audience := range []string{"quality", "research", "annual"} {
			t.Run(fmt.Sprintf("%s, codes %v", audience, codes), func(t *testing.T) {
				dir := t.TempDir()
				logDir := filepath.Join(dir, "log")
				if err := os.Mkdir(logDir, 0o700); err != nil {
					t.Fatal(err)
				}
				secrets := namedLog(t, logDir)
				book := filepath.Join(dir, "report.md")
				if err := os.WriteFile(book, []byte(pryingNotebook(audience)), 0o600); err != nil {
					t.Fatal(err)
				}
				made := makeCodes(t, logDir, codes)
				res, err := Run(context.Background(), Options{Notebook: book, Release: "test"})
				if err != nil {
					t.Fatal(err)
				}
				found := map[string]bool{}
				look := func(where, text string) {
					low := strings.ToLower(text)
					for _, s := range secrets {
						if strings.Contains(low, strings.ToLower(s)) && !found[where+s] {
							found[where+s] = true
							t.Errorf("%s tells %q", where, s)
						}
					}
				}
				everyByte(t, res.Folder, look)
				doc, answers := reportOf(t, book)
				look("the printed document", documentText(doc))
				text := documentText(doc)
				for _, c := range made.Staff {
					if audience != "quality" && strings.Contains(text, c) {
						t.Errorf("a %s report shows the staff code %s", audience, c)
					}
				}
				limbs := limbRows(answers)
				switch shown := audience == "quality" && codes; {
				case shown && limbs == 0:
					t.Error("with codes the report for the lab lists no limbs")
				case !shown && limbs > 0:
					t.Errorf("%d rows of single limbs", limbs)
				}
			})
		}
	}
}

func makeCodes(t *testing.T, logDir string, make bool) ingest.Codes {
	t.Helper()
	if !make {
		return ingest.Codes{}
	}
	log := readAll(t, logDir)
	path := filepath.Join(logDir, ingest.CodesFile)
	codes, err := ingest.OpenCodes(path, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := codes.Add(study.Persons(log), study.Staff(log)); err != nil {
		t.Fatal(err)
	}
	if err := codes.Save(path); err != nil {
		t.Fatal(err)
	}
	return *codes.Codes()
}

func readAll(t *testing.T, logDir string) *ingest.Log {
	t.Helper()
	var paths []string
	for _, n := range []string{"limbs", "sockets", "stations", "visits"} {
		paths = append(paths, filepath.Join(logDir, n+".csv"))
	}
	log, err := ingest.Read(context.Background(), paths, ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return log
}

// limbRows counts the rows that mixed models wrote of single limbs.
func limbRows(answers []*answer.Answer) int {
	n := 0
	for _, a := range answers {
		for _, tab := range a.Tables {
			if tab.Name == "limbs" {
				n += len(tab.Rows)
			}
		}
	}
	return n
}

// everyByte looks at every file of a folder, packed parts unpacked.
func everyByte(t *testing.T, folder string, look func(where, text string)) {
	t.Helper()
	files := 0
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		files++
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		name := filepath.Base(path)
		look(name, path+string(data))
		switch filepath.Ext(path) {
		case ".xlsx":
			z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
			if err != nil {
				return err
			}
			for _, f := range z.File {
				r, err := f.Open()
				if err != nil {
					return err
				}
				part, err := io.ReadAll(r)
				if err != nil {
					return err
				}
				look(name+" "+f.Name, string(part))
			}
		case ".pdf":
			for _, s := range streamForm.FindAllSubmatch(data, -1) {
				if r, err := zlib.NewReader(bytes.NewReader(s[1])); err == nil {
					part, _ := io.ReadAll(r) // what can be unpacked of it
					look(name, string(part))
				}
			}
		}
		return nil
	})
	if err != nil || files < 5 {
		t.Fatalf("%d files: %v", files, err)
	}
}

var streamForm = regexp.MustCompile(`(?s)stream\r?\n(.*?)\r?\nendstream`)

// reportOf makes the document of a notebook and its answers, as Run does.
func reportOf(t *testing.T, book string) (*document.Document, []*answer.Answer) {
	t.Helper()
	src, err := os.ReadFile(book)
	if err != nil {
		t.Fatal(err)
	}
	nb, err := notebook.Parse(book, src)
	if err != nil {
		t.Fatal(err)
	}
	paths, err := logFiles(nb, Options{Notebook: book})
	if err != nil {
		t.Fatal(err)
	}
	log, codes, err := readLog(context.Background(), paths, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	sc, err := study.New(nb, log, codes)
	if err != nil {
		t.Fatal(err)
	}
	var answers []answer.Answer
	for _, ask := range nb.Asks() {
		answers = append(answers, *answer.Run(context.Background(), sc, ask))
	}
	answers = numbers.HideSmall(answers, nb.Front.HideBelow)
	kinds, err := problemKinds(log.Problems)
	if err != nil {
		t.Fatal(err)
	}
	r := report{nb: nb, log: log, today: sc.Today, release: "test", kinds: kinds, sets: sc.Sets}
	for i := range answers {
		r.answers = append(r.answers, &answers[i])
	}
	return assemble(&r), r.answers
}

// documentText is every text of a document, its figures' own included.
func documentText(d *document.Document) string {
	var b strings.Builder
	put := func(s ...string) {
		for _, x := range s {
			b.WriteString(x)
			b.WriteByte('\n')
		}
	}
	put(d.Title, d.Subtitle, d.Author, d.Date, d.Foot, d.Mark)
	for _, p := range d.Cover {
		put(p.Label, p.Text)
	}
	spans := func(in []document.Span) {
		for _, s := range in {
			put(s.Text, s.Link)
		}
	}
	document.Walk(d.Blocks, func(x document.Block) {
		switch x := x.(type) {
		case document.Heading:
			put(x.Text, x.ID)
		case document.Paragraph:
			spans(x.Spans)
		case document.List:
			for _, it := range x.Items {
				spans(it)
			}
		case document.Table:
			put(x.ID, x.Caption)
			for _, c := range x.Columns {
				put(c.Head)
			}
			for _, r := range x.Rows {
				put(r...)
			}
			put(x.Notes...)
		case document.Figure:
			put(x.Caption, x.Figure.Title, x.Figure.Description, x.Figure.Long)
		case document.Note:
			put(x.Title)
			for _, p := range x.Paras {
				spans(p.Spans)
			}
		case document.Code:
			put(x.Text)
		}
	})
	return b.String()
}
