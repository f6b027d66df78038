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

func FuzzWrite(f *testing.F) {
	f.Add(twoPages(f))
	f.Fuzz(func(t *testing.T, pdf []byte) {
		_, _ = tree().Write(pdf) // whatever it is, no panic
	})
}
