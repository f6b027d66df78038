package notebook

import "testing"

// The lab's own meeting has its report in short, unless the notebook says
// otherwise; others have all of it.
func TestPrint(t *testing.T) {
	for front, want := range map[string]Print{"": Short, "audience: quality\n": Short, "audience: research\n": Full, "audience: annual\n": Full,
		"audience: quality\nprint: full\n": Full, "print: short\naudience: annual\n": Short, "print: main-first\naudience: research\n": MainFirst} {
		nb, err := Parse("a.md", []byte("---\ntitle: A\n"+front+"---\n"))
		if err != nil || nb.Front.Print != want {
			t.Errorf("%q: %q %v, want %q", front, nb.Front.Print, err, want)
		}
	}
}
