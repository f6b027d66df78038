package main

import (
	"runtime/debug"
	"strings"
)

// baseRelease is the release that the tree is working towards; a build from
// a tagged module says its tag instead.
const baseRelease = "0.1.0"

// release is the version from the build's own record.
func release() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return baseRelease
	}
	if v := info.Main.Version; v != "" && v != "(devel)" && !strings.HasPrefix(v, "v0.0.0-") {
		return strings.TrimPrefix(v, "v")
	}
	rev, dirty := "", ""
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			rev = s.Value
		case "vcs.modified":
			if s.Value == "true" {
				dirty = ".changed"
			}
		}
	}
	if len(rev) >= 12 {
		return baseRelease + "+" + rev[:12] + dirty
	}
	return baseRelease
}
