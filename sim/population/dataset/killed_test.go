package dataset_test

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"boilwright/sim/population/dataset"
)

// killed is the environment variable that names the part which a process of
// this test is to compute.
const killed = "BOILWRIGHT_TEST_PART"

var killedOptions = dataset.Options{Workers: 1, Block: 3, Report: func(done, _ uint64) { fmt.Println("done", done) }}

// TestKilled: a process that is killed at any instant, as kill -9 does it,
// loses nothing that it had reported, and in the end the bytes are the same.
func TestKilled(t *testing.T) {
	d := define(t, strings.Replace(tiny, "boards = 3", "boards = 150", 1))
	if name := os.Getenv(killed); name != "" {
		if err := dataset.Compute(context.Background(), d, name, killedOptions); err != nil {
			t.Fatal(err)
		}
		return
	}
	name := filepath.Join(t.TempDir(), "part")
	random := rand.New(rand.NewPCG(5, 8))
	reported, kills := uint64(0), 0
	for round := 0; reported < d.Boards; round++ {
		cmd := exec.Command(os.Args[0], "-test.run=^TestKilled$")
		cmd.Env = append(os.Environ(), killed+"="+name)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Skipf("this system starts no process: %v", err)
		}
		first := true
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			var done uint64
			if n, _ := fmt.Sscanf(lines.Text(), "done %d", &done); n != 1 {
				continue
			}
			if done < reported {
				t.Errorf("found %d boards after %d had been reported", done, reported)
			}
			reported = done
			if first && round < 12 {
				first = false
				kills++
				time.AfterFunc(time.Duration(random.IntN(12_000))*time.Microsecond, func() { cmd.Process.Kill() })
			}
		}
		if err := cmd.Wait(); err != nil && round >= 12 {
			t.Fatal(err)
		}
	}
	if kills == 0 {
		t.Error("found no process to kill")
	}
	fresh := part(t, d, dataset.Options{Workers: 2})
	a, _ := merged(t, dataset.Parquet, name)
	b, _ := merged(t, dataset.Parquet, fresh)
	if !bytes.Equal(a, b) {
		t.Error("found other bytes after being killed")
	}
	t.Logf("%d processes were killed", kills)
}
