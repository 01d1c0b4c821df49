package infer

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sync"
)

// FolderStore keeps the sheets of one bench in a folder, a file each, named by
// content. It is a cache: files may be deleted at any time, and one that is
// damaged counts as missing. Files are written whole beside their place and
// then put there, so that a reader finds the old one, the new one or none.
type FolderStore struct {
	dir     string
	content [sha256.Size]byte
	mu      sync.Mutex
	err     error
}

// NewFolderStore returns a store in dir for a bench that content identifies:
// everything that its results depend on.
func NewFolderStore(dir string, content []byte) *FolderStore {
	return &FolderStore{dir: dir, content: sha256.Sum256(content)}
}

// Content is what the sheets of a bench depend on besides the experiment: the
// board as text, the options, and the hypotheses with their settings. version
// is that of the program that simulates.
func (w *Bench) Content(board []byte, version string) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n%s\n", version, w.origin)
	b.Write(board)
	for i := range w.Hypotheses {
		fmt.Fprintf(&b, "%s\n", w.Hypotheses[i].Text(channelNames(w.Board)))
	}
	return b.Bytes()
}

// UseStore makes the bench load and keep its sheets in a store. Sheets that it
// has already are kept.
func (w *Bench) UseStore(s Store) { w.store = s }

func (s *FolderStore) path(key string) string {
	h := sha256.New()
	h.Write(s.content[:])
	h.Write([]byte(key))
	name := hex.EncodeToString(h.Sum(nil))
	return filepath.Join(s.dir, name[:2], name+".sheet")
}

// Load returns a sheet, nil where there is no sound one.
func (s *FolderStore) Load(key string) []float64 {
	data, err := os.ReadFile(s.path(key))
	if err != nil || len(data) < sha256.Size || (len(data)-sha256.Size)%4 != 0 {
		return nil
	}
	body := data[sha256.Size:]
	if sum := sha256.Sum256(body); !bytes.Equal(sum[:], data[:sha256.Size]) {
		return nil
	}
	out := make([]float64, len(body)/4)
	for i := range out {
		out[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(body[4*i:])))
	}
	return out
}

// Save keeps a sheet, in single precision. An error is kept for Err; a cache
// that cannot be written does no harm.
func (s *FolderStore) Save(key string, values []float64) {
	body := make([]byte, 4*len(values))
	for i, v := range values {
		binary.LittleEndian.PutUint32(body[4*i:], math.Float32bits(float32(v)))
	}
	sum := sha256.Sum256(body)
	if err := s.write(s.path(key), append(sum[:], body...)); err != nil {
		s.mu.Lock()
		s.err = err
		s.mu.Unlock()
	}
}

func (s *FolderStore) write(path string, data []byte) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".*.partial")
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if e := f.Sync(); err == nil {
		err = e
	}
	if e := f.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
	}
	return err
}

// Err is the last error of writing.
func (s *FolderStore) Err() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.err
}
