package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"boilwright/plots"
)

func (a *app) animate() *cobra.Command {
	cmd := &cobra.Command{
		Use: "animate",

		DisableFlagsInUseLine: true,

		Short: "Draw a circuit in slow motion, or a machine over an hour",
		Long: wrapped(`Draw an animation whose frames are exact states of the simulation. The ending of a file says the form: .gif,
.png (animated), .mp4 or .webm (which need the program ffmpeg and are left out without it); a name that ends in / is a
folder of numbered pictures. Beside each lies the same in words, NAME.txt, and with --data the state in every frame,
NAME.csv.`),
		Args: cobra.ArbitraryArgs,
		RunE: group,
	}
	cmd.AddCommand(a.animateCircuit(), a.animateMachine())
	return cmd
}

// animationOptions are the flags of every animation.
type animationOptions struct {
	faultFlags
	headingFlags
	out         []string
	size        string
	rate        float64
	speed       durationValue
	transparent bool
	data        bool
	asJSON      bool
}

func (o *animationOptions) add(cmd *cobra.Command, name, speed string, seeded bool) {
	o.faultFlags.add(cmd, seeded)
	o.headingFlags.add(cmd)
	f := cmd.Flags()
	f.StringArrayVarP(&o.out, "out", "o", []string{name + ".gif"}, "`FILE` to write, ending in .gif, .png, .mp4, .webm, or a folder ending in /; repeatable")
	f.StringVar(&o.size, "size", "1280x720", "pixels of a frame, `WIDTHxHEIGHT`, or a width for 16 to 9")
	f.Float64Var(&o.rate, "rate", 30, "frames a second, `NUMBER`")
	f.Var(&o.speed, "speed", "simulated `TIME` in "+speed)
	f.BoolVar(&o.transparent, "transparent", false, "leave out the ground of the pictures in a folder")
	f.BoolVar(&o.data, "data", false, "also write the state in every frame, NAME.csv")
	addJSONFlag(cmd, &o.asJSON)
}

// film is a form in which an animation is written.
type film struct {
	ending string
	write  func(o *animationOptions, ctx context.Context, name string, a *plots.Animation, z plots.FrameSize) error
}

var films = []film{
	{".gif", func(_ *animationOptions, ctx context.Context, name string, a *plots.Animation, z plots.FrameSize) error {
		return writeFile(name, nil, func(w io.Writer) error { return a.WriteGIF(ctx, w, z) })
	}},
	{".png", func(_ *animationOptions, ctx context.Context, name string, a *plots.Animation, z plots.FrameSize) error {
		return writeFile(name, nil, func(w io.Writer) error { return a.WriteAPNG(ctx, w, z) })
	}},
	{".mp4", writeVideo},
	{".webm", writeVideo},
	{"/", (*animationOptions).writePictures},
}

func filmOf(name string) (film, error) {
	ending := strings.ToLower(filepath.Ext(name))
	if strings.HasSuffix(name, "/") || strings.HasSuffix(name, string(os.PathSeparator)) {
		ending = "/"
	}
	i := slices.IndexFunc(films, func(f film) bool { return f.ending == ending })
	if i < 0 || filepath.Base(name) == ending {
		return film{}, misuse("--out: found %q, expected a name ending in .gif, .png, .mp4 or .webm, or a folder ending in /", name)
	}
	return films[i], nil
}

// check reads the flags that need no simulation.
func (o *animationOptions) check() (plots.FrameSize, error) {
	z, err := parseFrame(o.size)
	if err != nil {
		return z, err
	}
	folder, video := false, false
	for i, name := range o.out {
		f, err := filmOf(name)
		if err != nil {
			return z, err
		}
		for _, other := range o.out[:i] {
			if filepath.Clean(other) == filepath.Clean(name) {
				return z, misuse("--out: found %s twice, expected it once", name)
			}
		}
		folder, video = folder || f.ending == "/", video || f.ending == ".mp4" || f.ending == ".webm"
	}
	if o.transparent && !folder {
		return z, misuse("found --transparent without a folder of pictures, expected --out FOLDER/")
	}
	if video && (z.Width%2 == 1 || z.Height%2 == 1) {
		return z, misuse("--size: found %d x %d pixels, expected even numbers for a video", z.Width, z.Height)
	}
	if !(o.rate >= 1 && o.rate <= 120) {
		return z, misuse("--rate: found %g, expected 1 to 120 frames a second", o.rate)
	}
	z.Transparent = o.transparent
	return z, nil
}

// parseFrame reads the size of a frame.
func parseFrame(text string) (plots.FrameSize, error) {
	bad := misuse("--size: found %q, expected a size such as 1920x1080, each %d to %d", text, plots.LeastFrame, plots.MostFrame)
	t := strings.TrimSpace(strings.TrimSuffix(strings.ReplaceAll(text, "×", "x"), "px"))
	width, height, both := strings.Cut(t, "x")
	w, err := strconv.Atoi(strings.TrimSpace(width))
	if err != nil {
		return plots.FrameSize{}, bad
	}
	if w < plots.LeastFrame || w > plots.MostFrame {
		return plots.FrameSize{}, bad
	}
	h := (w*9 + 8) / 16
	h += h % 2
	if both {
		if h, err = strconv.Atoi(strings.TrimSpace(height)); err != nil {
			return plots.FrameSize{}, bad
		}
	}
	if !both && h < plots.LeastFrame {
		return plots.FrameSize{}, misuse("--size: found the width %d, whose height at 16 to 9 is %d pixels, expected a height of at least %d", w, h, plots.LeastFrame)
	}
	if h < plots.LeastFrame || h > plots.MostFrame {
		return plots.FrameSize{}, bad
	}
	return plots.FrameSize{Width: w, Height: h}, nil
}

// frameTimes are the instants of the frames between two times, in seconds.
func (o *animationOptions) frameTimes(begin, end float64) ([]float64, error) {
	duration := end - begin
	step := time.Duration(o.speed).Seconds() / o.rate
	count := math.Floor(duration/step+1e-9) + 1
	if !(count <= plots.MostFrames) { // before it becomes an int, which it may not fit
		return nil, misuse("found %.0f frames, expected at most %d: choose a higher --speed or a lower --rate", count, plots.MostFrames)
	}
	n := int(count)
	times := make([]float64, n)
	for i := range times {
		times[i] = min(end, begin+float64(i)*step)
	}
	return times, nil
}

// finish writes an animation in all forms asked for and tells their names.
func (o *animationOptions) finish(cmd *cobra.Command, t *target, a *plots.Animation, z plots.FrameSize) error {
	var files []string
	told := map[string]bool{} // names without ending, whose words are written
	var missing error
	for _, name := range o.out {
		f, err := filmOf(name)
		if err != nil {
			return err
		}
		p := newProgress(cmd, name)
		z.Progress = func(done, total int) { p.show(time.Duration(done), time.Duration(total)) }
		err = f.write(o, cmd.Context(), name, a, z)
		p.end()
		if errors.Is(err, errNoEncoder) {
			missing = err
			fmt.Fprintf(cmd.ErrOrStderr(), "%s is left out: %v\n", name, err)
			continue
		}
		if err != nil {
			if cmd.Context().Err() != nil {
				return errInterrupted
			}
			return err
		}
		files = append(files, name)
		stem := strings.TrimSuffix(name, filepath.Ext(name))
		if f.ending == "/" {
			stem = filepath.Join(name, "animation")
		}
		stem = filepath.Clean(stem)
		if told[stem] {
			continue
		}
		told[stem] = true
		if err := writeFile(stem+".txt", nil, func(w io.Writer) error {
			_, err := fmt.Fprintf(w, "%s\n\n%s\n\n%s\n", a.Title(), wrapped(a.Alt()), wrapped(a.Caption()))
			return err
		}); err != nil {
			return err
		}
		files = append(files, stem+".txt")
		if o.data {
			if err := writeFile(stem+".csv", nil, func(w io.Writer) error { return writeTables(w, a.Data()) }); err != nil {
				return err
			}
			files = append(files, stem+".csv")
		}
	}
	if len(files) == 0 {
		return fmt.Errorf("nothing is written: %w", missing)
	}
	out := cmd.OutOrStdout()
	if o.asJSON {
		return writeJSON(out, &figureDocument{schemaName("figure"), t.document(), a.Title(), a.Caption(), a.Alt(), files})
	}
	fmt.Fprintln(out, a.Title())
	fmt.Fprintln(out, indented("  ", fmt.Sprintf("%d frames of %d x %d pixels, %g a second. %s", a.Count(), z.Width, z.Height, a.Rate(), a.Caption())))
	for _, f := range files {
		fmt.Fprintln(out, f)
	}
	return nil
}

// writePictures writes numbered pictures into a folder.
func (o *animationOptions) writePictures(ctx context.Context, name string, a *plots.Animation, z plots.FrameSize) error {
	if err := os.MkdirAll(name, 0o777); err != nil {
		return err
	}
	return a.Pictures(ctx, z, func(i int, png []byte) error {
		file := filepath.Join(name, fmt.Sprintf("frame-%05d.png", i+1))
		return writeFile(file, nil, func(w io.Writer) error { _, err := w.Write(png); return err })
	})
}

// errNoEncoder tells that videos cannot be written on this machine.
var errNoEncoder = errors.New("the program ffmpeg is not installed; .gif, .png and a folder of pictures need none")

// writeVideo hands the frames to ffmpeg.
func writeVideo(_ *animationOptions, ctx context.Context, name string, a *plots.Animation, z plots.FrameSize) error {
	program, err := exec.LookPath("ffmpeg")
	if err != nil {
		return errNoEncoder
	}
	z.Transparent = false
	part, err := partial(name)
	if err != nil {
		return err
	}
	if err := part.Close(); err != nil {
		return err
	}
	defer os.Remove(part.Name()) // gone already where all went well
	args := []string{"-v", "error", "-nostdin", "-y", "-f", "rawvideo", "-pix_fmt", "rgba", "-video_size", fmt.Sprintf("%dx%d", z.Width, z.Height),
		"-framerate", strconv.FormatFloat(a.Rate(), 'g', -1, 64), "-i", "pipe:0", "-an", "-pix_fmt", "yuv420p", "-fflags", "+bitexact", "-flags:v", "+bitexact"}
	if strings.EqualFold(filepath.Ext(name), ".webm") {
		args = append(args, "-c:v", "libvpx-vp9", "-b:v", "0", "-crf", "30", "-f", "webm", part.Name())
	} else {
		args = append(args, "-c:v", "libx264", "-crf", "18", "-movflags", "+faststart", "-f", "mp4", part.Name())
	}
	c := exec.CommandContext(ctx, program, args...)
	var said strings.Builder
	c.Stderr = &said
	in, err := c.StdinPipe()
	if err != nil {
		return err
	}
	if err := c.Start(); err != nil {
		return fmt.Errorf("ffmpeg: %w", err)
	}
	err = a.Raw(ctx, z, func(_ int, rgba []byte) error { _, err := in.Write(rgba); return err })
	err = errors.Join(err, in.Close())
	if wait := c.Wait(); wait != nil {
		return fmt.Errorf("ffmpeg: %w: %s", wait, strings.TrimSpace(said.String()))
	}
	if err != nil {
		return err
	}
	if err := os.Rename(part.Name(), name); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(name))
}
