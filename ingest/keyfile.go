package ingest

import "fmt"

// What inspect writes beside a log, so that it is never taken for the log.
const (
	MarkedSuffix = "-marked"   // before the ending of a marked copy
	CodesFile    = "codes.csv" // the key from codes to persons and staff
)

// LoadCodes reads the key file at path. It makes nothing: a file that does
// not exist is os.ErrNotExist.
func LoadCodes(path string) (Codes, error) {
	codes, _, err := loadCodes(path)
	if err != nil {
		return Codes{}, fmt.Errorf("read the codes in %s: %w", path, err)
	}
	return codes, nil
}
