package structure

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// twoPages is a plain file whose pages mark a heading and a paragraph that
// goes on overleaf.
func twoPages(t testing.TB) []byte {
	t.Helper()
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "pt", Size: fpdf.SizeType{Wd: 200, Ht: 200}})
	f.SetCatalogSort(true)
	f.SetCreationDate(time.Unix(0, 0).UTC())
	f.SetModificationDate(time.Unix(0, 0).UTC())
	f.SetFont("Helvetica", "", 12)
	f.AddPage()
	f.RawWriteStr("/H1 <</MCID 0>> BDC")
	f.Text(20, 20, "Head")
	f.RawWriteStr("EMC /P <</MCID 1>> BDC")
	f.Text(20, 40, "starts here")
	f.RawWriteStr("EMC")
	f.AddPage()
	f.RawWriteStr("/P <</MCID 0>> BDC")
	f.Text(20, 20, "ends there")
	f.RawWriteStr("EMC")
	var b bytes.Buffer
	if err := f.Output(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func tree() *Tree {
	t := &Tree{}
	h := t.Root().Add(H1)
	t.Root().Add(List).Add(Item) // holds nothing: left out
	p := t.Root().Add(P)
	t.Content(h, 1)
	t.Content(p, 1)
	t.Content(p, 2)
	return t
}

func TestElementGoesOnOverleaf(t *testing.T) {
	out, err := tree().Write(twoPages(t))
	if err != nil {
		t.Fatal(err)
	}
	again, err := tree().Write(twoPages(t))
	if err != nil || !bytes.Equal(out, again) {
		t.Fatalf("other bytes the second time (%v)", err)
	}
	f, err := open(out) // the table is right, or it could not be opened
	if err != nil {
		t.Fatal(err)
	}
	all := string(bytes.Join(f.objects, nil))
	for _, want := range []string{"/Marked true", "/S /H1", "/StructParents 0", "/StructParents 1", "/K [1 <</Type /MCR /Pg "} {
		if !strings.Contains(all, want) {
			t.Errorf("the file does not hold %q", want)
		}
	}
	if strings.Contains(all, "/S /LI") {
		t.Error("an element that holds nothing was kept")
	}
}

func TestWhatIsNotBuiltAsExpectedIsRefused(t *testing.T) {
	whole := string(twoPages(t))
	for name, pdf := range map[string]string{
		"nothing":       "",
		"cut off":       whole[:len(whole)-20],
		"moved":         strings.Replace(whole, "1 0 obj", " 1 0 obj", 1),
		"no catalogue":  strings.Replace(whole, "/Root", "/Rood", 1),
		"no such pages": strings.Replace(whole, "/Pages 1 0 R", "/Pages 9 0 R", 1),
	} {
		if _, err := tree().Write([]byte(pdf)); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	far := tree()
	far.Content(far.Root().Add(P), 3)
	if _, err := far.Write([]byte(whole)); err == nil || !strings.Contains(err.Error(), "page 3 of 2") {
		t.Errorf("marks on a page that is not there: %v", err)
	}
	loose := &Tree{}
	loose.Content(&Element{Role: P}, 1)
	if _, err := loose.Write([]byte(whole)); err == nil || !strings.Contains(err.Error(), "hangs on nothing") {
		t.Errorf("an element outside of the tree: %v", err)
	}
}

func TestLinksOfPagesMustBeKnown(t *testing.T) {
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "pt", Size: fpdf.SizeType{Wd: 200, Ht: 200}})
	f.AddPage()
	f.RawWriteStr("/Link <</MCID 0>> BDC")
	f.SetFont("Helvetica", "", 12)
	f.Text(20, 20, "away")
	f.RawWriteStr("EMC")
	f.LinkString(20, 10, 30, 12, "https://example.org/a)b(c>>")
	f.LinkString(80, 10, 30, 12, "https://example.org/no-owner")
	var b bytes.Buffer
	if err := f.Output(&b); err != nil {
		t.Fatal(err)
	}
	known := func(places int) *Tree {
		tree := &Tree{}
		e := tree.Root().Add(P).Add(Link)
		tree.Content(e, 1)
		for i := range places {
			tree.Place(e, 1, "away")
			if i == 0 {
				e = nil
			}
		}
		return tree
	}
	for _, n := range []int{0, 1, 3} {
		if _, err := known(n).Write(b.Bytes()); err == nil || !strings.Contains(err.Error(), "has 2 links") {
			t.Errorf("%d links known of 2: %v", n, err)
		}
	}
	out, err := known(2).Write(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	again, err := known(2).Write(b.Bytes())
	if err != nil || !bytes.Equal(out, again) {
		t.Fatalf("other bytes the second time (%v)", err)
	}
	for want, n := range map[string]int{"/StructParent 1>>": 1, "/Subtype /Link": 2, "/OBJR": 1, `(https://example.org/a\)b\(c>>)`: 1, "/ParentTreeNextKey 2": 1} {
		if got := bytes.Count(out, []byte(want)); got != n {
			t.Errorf("%q stands in the file %d times, want %d", want, got, n)
		}
	}
	open := bytes.Replace(b.Bytes(), []byte("no-owner)"), []byte("no-owner("), 1)
	if _, err := known(2).Write(open); err == nil || !strings.Contains(err.Error(), "does not end") {
		t.Errorf("annotations that do not end: %v", err)
	}
}

func FuzzWrite(f *testing.F) {
	f.Add(twoPages(f))
	f.Fuzz(func(t *testing.T, pdf []byte) {
		_, _ = tree().Write(pdf) // whatever it is, no panic
	})
}
