package checker

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"strings"
	"sync"
	"time"
)

// grace is how long a program has to end when its input has ended.
const grace = time.Second

// mostErrors is how much of a program's standard error is kept, in bytes.
const mostErrors = 4096

// tail keeps the end of what is written.
type tail struct {
	mu   sync.Mutex
	data []byte
}

func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.data = append(t.data, p[max(0, len(p)-mostErrors):]...)
	if n := len(t.data); n > mostErrors {
		t.data = append(t.data[:0], t.data[n-mostErrors:]...)
	}
	return len(p), nil
}

// last is the last line that was written.
func (t *tail) last() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	text := strings.TrimRight(string(t.data), "\r\n \t")
	return text[strings.LastIndexByte(text, '\n')+1:]
}

// received is a line of a program, or why there is none.
type received struct {
	text   []byte
	number int // from 1
	err    error
}

// process is one program that runs.
type process struct {
	cmd    *exec.Cmd
	in     io.WriteCloser
	lines  chan received
	stop   chan struct{} // closed when nobody reads lines any more
	ended  chan struct{} // closed when the reader has ended
	errors *tail
}

// errWrong is an answer that is none.
type errWrong struct {
	line int
	err  error
}

func (e *errWrong) Error() string { return fmt.Sprintf("line %d: %v", e.line, e.err) }
func (e *errWrong) Unwrap() error { return e.err }

var (
	errLong = fmt.Errorf("found a line of more than %d bytes, expected less", MaxLine)
	errTime = errors.New("no answer within the time limit")
	errEnd  = errors.New("the program has ended")
)

func start(argv []string) (*process, error) {
	p := &process{cmd: exec.Command(argv[0], argv[1:]...), lines: make(chan received), stop: make(chan struct{}), ended: make(chan struct{}), errors: &tail{}}
	p.cmd.Stderr = p.errors
	p.cmd.WaitDelay = grace
	group(p.cmd)
	var err error
	if p.in, err = p.cmd.StdinPipe(); err != nil {
		return nil, err
	}
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := p.cmd.Start(); err != nil {
		return nil, err
	}
	go p.read(out)
	return p, nil
}

// read passes on the lines of the program until it ends.
func (p *process) read(out io.Reader) {
	defer close(p.ended)
	r := bufio.NewReaderSize(out, 64<<10)
	for n := 1; ; n++ {
		line, err := readLine(r)
		select {
		case p.lines <- received{line, n, err}:
		case <-p.stop:
			return
		}
		if err != nil {
			return
		}
	}
}

// readLine reads a line without its end. What comes after the last end of line
// is none.
func readLine(r *bufio.Reader) ([]byte, error) {
	var line []byte
	for {
		part, err := r.ReadSlice('\n')
		if len(line)+len(part) > MaxLine {
			return nil, errLong
		}
		line = append(line, part...)
		switch {
		case err == nil:
			return line[:len(line)-1], nil
		case !errors.Is(err, bufio.ErrBufferFull):
			return nil, errEnd
		}
	}
}

// ask sends a line and waits for one, not longer than limit.
func (p *process) ask(ctx context.Context, line []byte, limit time.Duration) (received, error) {
	if err := ctx.Err(); err != nil {
		return received{}, err
	}
	// The program may not read: only the answer is waited for. Killing it ends
	// the writing.
	go func() { _, _ = p.in.Write(line) }()
	timer := time.NewTimer(limit)
	defer timer.Stop()
	select {
	case got := <-p.lines:
		if errors.Is(got.err, errLong) {
			return got, &errWrong{got.number, got.err}
		}
		return got, got.err
	case <-timer.C:
		return received{}, errTime
	case <-ctx.Done():
		return received{}, ctx.Err()
	}
}

// end lets the program end by itself where gently, kills it and its group, and
// waits until it is gone.
func (p *process) end(gently bool) {
	close(p.stop)
	_ = p.in.Close()
	if gently {
		timer := time.NewTimer(grace)
		select {
		case <-p.ended:
		case <-timer.C:
		}
		timer.Stop()
	}
	kill(p.cmd)
	_ = p.cmd.Wait()
	<-p.ended
}

// complaint is an error with the last line of what the program complained of.
func (p *process) complaint(err error) error {
	if last := p.errors.last(); last != "" {
		return fmt.Errorf("%w; its standard error ends with %s", err, shortened(last))
	}
	return err
}
