package command

import (
	"embed"
	"encoding/json"
	"io"
	"math"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"text/template"
	"time"
	"unicode"

	"github.com/spf13/cobra"

	"boilwright/sim/population/dataset"
)

//go:embed jobs
var jobFiles embed.FS

// jobOptions are the flags of the commands population job.
type jobOptions struct {
	shards, atOnce, workers int
	memory, retries         int
	duration                durationValue
	program, folder         string
	name, out, waveforms    string
	partition               string
	image, claim, mount     string
}

// mostDeadline is the longest deadline of a Job in seconds: what a signed
// number of 32 bits holds.
const mostDeadline = math.MaxInt32

// job is what the templates are filled in with.
type job struct {
	Name, Program, File, Folder     string
	Out, Waveforms                  string
	Shards, AtOnce, Workers, Memory int
	Retries, Minutes, Seconds       int
	Deadline                        int64 // seconds
	Partition                       string
	Image, Claim, Mount             string
}

func (a *app) populationJob() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "job",
		Short: "Print ready job files that compute a data set on many machines",
		Long: wrapped(`Print what runs "population data" in shards on many machines and merges the parts: for a Slurm cluster or
a Kubernetes one. Shards that fail are tried again and go on where they were.`),
		RunE: group,
		Args: cobra.ArbitraryArgs,
	}
	cmd.AddCommand(a.slurmJob(), a.kubernetesJob())
	return cmd
}

func (a *app) slurmJob() *cobra.Command {
	o := &jobOptions{}
	cmd := &cobra.Command{
		Use:   "slurm FILE",
		Short: "Print a script that submits a Slurm array and the job that merges",
		Long: wrapped(`Print a script for bash that submits an array of jobs to Slurm, one a shard of the population file, and
a job that depends on all of them and merges what they computed. Names are meant from the folder in which it is run,
which the nodes must share.`),
		Example: `  boilwright population job slurm boards.toml --shards 16 > submit.sh
  bash submit.sh`,
		Args:    cobra.ExactArgs(1),
		PreRunE: func(*cobra.Command, []string) error { return o.validate() },
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			return o.print(cmd.OutOrStdout(), "slurm.sh", args[0], args[0])
		}),
	}
	o.add(cmd)
	cmd.Flags().StringVar(&o.partition, "partition", "", "of the cluster, `NAME` [its default]")
	return cmd
}

func (a *app) kubernetesJob() *cobra.Command {
	o := &jobOptions{}
	cmd := &cobra.Command{
		Use:   "kubernetes FILE",
		Short: "Print an indexed Kubernetes Job and the Job that merges",
		Long: wrapped(`Print the manifest of two Kubernetes Jobs: an indexed one, an index a shard of the population file, and
one that waits for all parts and merges them. They work on a volume that has the population file, with its own name,
and its board; the image has this program, a shell and sleep. Needs Kubernetes 1.29 or later.`),
		Example: `  boilwright population job kubernetes boards.toml --shards 16 --image example/boilwright:1 --claim data > jobs.yaml
  kubectl apply -f jobs.yaml`,
		Args: cobra.ExactArgs(1),
		PreRunE: func(*cobra.Command, []string) error {
			switch {
			case o.image == "" || o.claim == "":
				return misuse("found no --image or no --claim, expected both")
			case !objectName.MatchString(o.claim):
				return misuse("--claim: found %q, expected lower-case letters, digits and hyphens", o.claim)
			case !path.IsAbs(o.mount) || path.Clean(o.mount) != o.mount || o.mount == "/" || strings.Contains(o.mount, ":"):
				return misuse("--mount: found %q, expected a folder from the root, such as /data", o.mount)
			case strings.ContainsFunc(o.image, func(r rune) bool { return unicode.IsSpace(r) || !unicode.IsPrint(r) }):
				return misuse("--image: found %q, expected the name of an image", o.image)
			}
			return o.validate()
		},
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			return o.print(cmd.OutOrStdout(), "kubernetes.yaml", args[0], filepath.Base(args[0]))
		}),
	}
	o.add(cmd)
	f := cmd.Flags()
	f.StringVar(&o.image, "image", "", "container `IMAGE` that has the program; needed")
	f.StringVar(&o.claim, "claim", "", "`NAME` of the claim of the volume that has the file and takes the data; needed")
	f.StringVar(&o.mount, "mount", "/data", "`FOLDER` at which the volume is mounted")
	return cmd
}

func (o *jobOptions) add(cmd *cobra.Command) {
	o.duration = durationValue(time.Hour)
	f := cmd.Flags()
	f.IntVar(&o.shards, "shards", 0, "`NUMBER` of parts; needed")
	f.IntVar(&o.atOnce, "at-once", 0, "`NUMBER` of shards that are worked on at once at most [all]")
	f.IntVar(&o.workers, "workers", 1, "`NUMBER` of cores, and of boards that are worked on at once, of each shard")
	f.IntVar(&o.memory, "memory", 1024, "`MEBIBYTES` of each job")
	f.IntVar(&o.retries, "retries", 3, "`NUMBER` of times that a shard is tried again")
	f.Var(&o.duration, "time", "that a shard with what Slurm retries of it, a pod of Kubernetes, or the merge may take, `TIME`")
	f.StringVar(&o.program, "program", "boilwright", "`PROGRAM` as the machines find it")
	f.StringVar(&o.folder, "folder", "parts", "`FOLDER` of the parts")
	f.StringVarP(&o.out, "out", "o", "all.parquet", "`FILE` of the whole data set; its ending tells the format")
	f.StringVar(&o.waveforms, "waveforms", "", "also write the waveforms, which the population file must ask for, to `FILE`")
	f.StringVar(&o.name, "name", "boilwright", "`NAME` that those of the jobs begin with")
}

// objectName is what names of objects are made of (RFC 1123, with room for what is
// put after it).
var objectName = regexp.MustCompile(`^[a-z0-9]([-a-z0-9]{0,48}[a-z0-9])?$`)

func (o *jobOptions) validate() error {
	for _, x := range []struct {
		flag             string
		value, low, high int
	}{{"shards", o.shards, 1, 10_000}, {"at-once", o.atOnce, 0, 10_000}, {"workers", o.workers, 1, 1024}, {"memory", o.memory, 64, 1 << 20}, {"retries", o.retries, 0, 100}} {
		if x.value < x.low || x.value > x.high {
			return misuse("--%s: found %d, expected %d to %d", x.flag, x.value, x.low, x.high)
		}
	}
	if d := time.Duration(o.duration); d < time.Minute || d > 365*24*time.Hour {
		return misuse("--time: found %v, expected a minute to a year", d)
	}
	if !objectName.MatchString(o.name) {
		return misuse("--name: found %q, expected up to 50 lower-case letters, digits and hyphens", o.name)
	}
	if o.partition != "" && !regexp.MustCompile(`^[A-Za-z0-9][-A-Za-z0-9_.,]*$`).MatchString(o.partition) {
		return misuse("--partition: found %q, expected a name", o.partition)
	}
	return o.names("--program", o.program, "--folder", o.folder, "--out", o.out)
}

// names checks texts that go into scripts: they are quoted there, but each
// stays on its line.
func (o *jobOptions) names(pairs ...string) error {
	for i := 0; i < len(pairs); i += 2 {
		switch text := pairs[i+1]; {
		case text == "" || text == "-":
			return misuse("%s: found %q, expected a name", pairs[i], text)
		case strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }):
			return misuse("%s: found %q, expected a name without control characters", pairs[i], text)
		}
	}
	return nil
}

// print fills in a template. The population file is read, so that no cluster
// begins with a wrong one.
func (o *jobOptions) print(out io.Writer, name, file, as string) error {
	if err := o.names("FILE", file); err != nil {
		return err
	}
	if o.waveforms != "" {
		if err := o.names("--waveforms", o.waveforms); err != nil {
			return err
		}
	}
	d, err := dataset.Load(file, program())
	if err != nil {
		return wrongInput(err)
	}
	if uint64(o.shards) > d.Boards {
		return misuse("--shards: found %d, expected at most %d, as many as there are boards", o.shards, d.Boards)
	}
	if o.waveforms != "" && len(d.Waveforms) == 0 {
		return misuse("found --waveforms, expected it with a population file that asks for waveforms only")
	}
	t, err := template.New(name).Funcs(template.FuncMap{"shell": shellQuoted, "text": yamlQuoted, "env": envQuoted}).ParseFS(jobFiles, "jobs/"+name)
	if err != nil {
		return err
	}
	minutes := int(math.Ceil(time.Duration(o.duration).Minutes()))
	atOnce := o.shards
	if o.atOnce > 0 {
		atOnce = min(atOnce, o.atOnce)
	}
	rounds := (o.shards + atOnce - 1) / atOnce * (o.retries + 1)
	return t.Execute(out, job{
		Name: o.name, Program: o.program, File: as, Folder: o.folder, Out: o.out, Waveforms: o.waveforms,
		Shards: o.shards, AtOnce: o.atOnce, Workers: o.workers, Memory: o.memory, Retries: o.retries, Minutes: minutes, Seconds: 60 * minutes,
		Deadline:  min(60*int64(minutes)*int64(rounds+1), mostDeadline),
		Partition: o.partition, Image: o.image, Claim: o.claim, Mount: o.mount,
	})
}

// shellQuoted is a text as one word of a shell (POSIX.1-2017, XCU 2.2.2).
func shellQuoted(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }

// yamlQuoted is a text in double quotes: JSON's are YAML's (YAML 1.2.2, 7.3.1).
func yamlQuoted(s string) (string, error) {
	b, err := json.Marshal(s)
	return string(b), err
}

// envQuoted is the same for a value of the environment, in which Kubernetes
// would take $(NAME) for another variable.
func envQuoted(s string) (string, error) { return yamlQuoted(strings.ReplaceAll(s, "$", "$$")) }
