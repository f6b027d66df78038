package main

import "testing"

func TestHelp(t *testing.T) {
	t.Parallel()
	for word, want := range map[string]string{"inspcet": `did you mean "inspect"?`, "kaplan-meier": "plybook manual kaplan-meier", "kaplan-mier": "plybook manual kaplan-meier", "zzzzz": "the commands are "} {
		o := plybook(t, t.TempDir(), "help", word).want(t, statusNothing)
		says(t, word, o.err, want)
		if o.out != "" {
			t.Errorf("%s: on the output stands %q", word, o.out)
		}
	}
	says(t, "help run", plybook(t, t.TempDir(), "help", "run").want(t, statusDone).out, "plybook run NOTEBOOK", "--strict")
	says(t, "help", plybook(t, t.TempDir(), "help").want(t, statusDone).out, "Start here", "manual")
}
