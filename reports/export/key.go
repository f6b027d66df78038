package export

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"plybook/reports/study"
)

// checkKeyFile refuses a key that would stand in the data set, or in the place
// of another file.
func checkKeyFile(path, target string) error {
	if path == "" {
		return nil
	}
	key, err1 := filepath.Abs(path)
	out, err2 := filepath.Abs(target)
	if err := errors.Join(err1, err2); err != nil {
		return fmt.Errorf("--keep-key %s: %w", path, err)
	}
	if rel, err := filepath.Rel(out, key); err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
		return fmt.Errorf("--keep-key %s: the key must not stand in the folder that is given out", path)
	}
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("--keep-key %s: %w; a key is never replaced", path, fs.ErrExist)
	}
	return nil
}

// keepKey writes which code stands for whom, readable by the owner alone.
func (m *maker) keepKey() error {
	if m.o.KeyFile == "" {
		return nil
	}
	rows := [][]cell{{textCell("kind"), textCell("in the log"), textCell("code")}}
	original := m.originals()
	for _, k := range m.key {
		id := k[1]
		if was, ok := original[k[0]][id]; ok {
			id = was
		}
		rows = append(rows, []cell{textCell(k[0]), textCell(id), textCell(k[2])})
	}
	b, err := csvOf(rows)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(m.o.KeyFile, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("keep the key: %w", err)
	}
	if _, err = f.Write(b); err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return errors.Join(fmt.Errorf("keep the key: %w", err), os.Remove(m.o.KeyFile))
	}
	return nil
}

// originals are the identifiers that the log has for those which the analysis
// goes by, where codes stand for people there.
func (m *maker) originals() map[string]map[string]string {
	if m.src.Codes == nil {
		return nil
	}
	log, coded := m.src.Log, study.Recode(m.src.Log, m.src.Codes)
	out := map[string]map[string]string{"person": {}, "limb": {}, "socket": {}, "visit": {}}
	for i, l := range log.Limbs {
		out["person"][coded.Limbs[i].Person], out["limb"][coded.Limbs[i].Limb] = l.Person, l.Limb
	}
	for i, s := range log.Sockets {
		out["socket"][coded.Sockets[i].Socket] = s.Socket
	}
	for i, v := range log.Visits {
		out["visit"][coded.Visits[i].Visit] = v.Visit
	}
	return out
}
