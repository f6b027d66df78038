package output

import "golang.org/x/sys/unix"

// swap exchanges two folders in one step.
func swap(temp, target string) error {
	err := unix.Renameat2(unix.AT_FDCWD, temp, unix.AT_FDCWD, target, unix.RENAME_EXCHANGE)
	if err != nil {
		return replaceInSteps(temp, target)
	}
	return nil
}
