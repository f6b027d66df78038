//go:build !linux

package output

func swap(temp, target string) error { return replaceInSteps(temp, target) }
