package command

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v3"
)

// oddNames are file names that shells and manifests must not take apart.
var oddNames = []string{"boards.toml", "it's odd.toml", `a"b\c.toml`, "$HOME $(HOME) `id`.toml", "-n.toml", "#: {a}, [b] & *c !d %e @f.toml", "tüp ☕.toml"}

// populationFile writes a small population file.
func populationFile(t *testing.T, name string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte("boards = 5\nwaveforms = 'standby'\nobserve = 'ohms dye:element'\nparameters = false\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	return path
}

func printed(t *testing.T, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if code := Execute(context.Background(), args, strings.NewReader(""), &out, &errs); code != Done {
		t.Fatalf("%q: found exit code %d: %s", args, code, errs.String())
	}
	return out.String()
}

// decoded reads the documents of a manifest.
func decoded(t *testing.T, manifest string) []map[string]any {
	t.Helper()
	var out []map[string]any
	for d := yaml.NewDecoder(strings.NewReader(manifest)); ; {
		var x map[string]any
		if err := d.Decode(&x); errors.Is(err, io.EOF) {
			return out
		} else if err != nil {
			t.Fatal(err)
		}
		out = append(out, x)
	}
}

func jobSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	f, err := os.Open("testdata/batch-v1-job.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	document, err := jsonschema.UnmarshalJSON(f)
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("job.json", document); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("job.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestKubernetesJob checks the manifest against what the Kubernetes API
// reference says of batch/v1 Job (as a schema in testdata) and what the rules of
// indexed Jobs ask for (Kubernetes documentation, Jobs: backoffLimitPerIndex
// and a pod failure policy go with restartPolicy Never).
func TestKubernetesJob(t *testing.T) {
	schema := jobSchema(t)
	for _, name := range oddNames {
		text := printed(t, "population", "job", "kubernetes", "--shards", "3", "--at-once", "2", "--image", "example/boilwright:1", "--claim", "data", "--waveforms", name+".w",
			"--folder", name+"/parts", "--out", name+".csv", "--program", "/opt/"+name, "--mount", "/mnt/"+strings.ReplaceAll(name, ":", ""), "--", populationFile(t, name))
		jobs := decoded(t, text)
		if len(jobs) != 2 {
			t.Fatalf("found %d documents, expected 2", len(jobs))
		}
		for _, x := range jobs {
			if err := schema.Validate(x); err != nil {
				t.Errorf("%s: %v", name, err)
			}
			if x["apiVersion"] != "batch/v1" || x["kind"] != "Job" {
				t.Errorf("found %v %v, expected batch/v1 Job", x["apiVersion"], x["kind"])
			}
		}
		spec := jobs[0]["spec"].(map[string]any)
		if spec["completionMode"] != "Indexed" || spec["completions"] != 3 || spec["parallelism"] != 2 || spec["backoffLimitPerIndex"] != 3 {
			t.Errorf("found %v", spec)
		}
		if p := pod(jobs[0]); p["restartPolicy"] != "Never" || p["activeDeadlineSeconds"] != 3600 {
			t.Errorf("found restart policy %v and deadline %v, expected Never and an hour", p["restartPolicy"], p["activeDeadlineSeconds"])
		}
		// Three shards, two at once, each with three retries of an hour; and the merge.
		if d := jobs[1]["spec"].(map[string]any)["activeDeadlineSeconds"]; d != (2*4+1)*3600 {
			t.Errorf("found the deadline %v of the merge, expected it to outlast the shards", d)
		}
		_, env := containerScript(t, jobs[0], "containers")
		_, merge := containerScript(t, jobs[1], "containers")
		mount := pod(jobs[0])["containers"].([]any)[0].(map[string]any)["workingDir"]
		for _, pair := range [][2]any{{env["FILE"], name}, {env["FOLDER"], name + "/parts"}, {env["PROGRAM"], "/opt/" + name}, {merge["OUT"], name + ".csv"},
			{merge["WAVEFORMS"], name + ".w"}, {merge["FOLDER"], env["FOLDER"]}, {mount, "/mnt/" + strings.ReplaceAll(name, ":", "")}} {
			if pair[0] != pair[1] {
				t.Errorf("found %q, expected %q", pair[0], pair[1])
			}
		}
	}
	// The schema finds what is wrong: each with a pattern of what it must not take.
	good := printed(t, "population", "job", "kubernetes", "--shards", "3", "--image", "i", "--claim", "c", populationFile(t, "p.toml"))
	for _, c := range [][2]string{{"completions: 3", "completions: three"}, {"completions: 3", "complitions: 3"}, {"containerName: shard", "container: shard"},
		{"claimName: c", "claimname: c"}, {`command: ["/bin/sh", "-c"]`, `command: "/bin/sh"`}, {"action: FailIndex", "act: FailIndex"}} {
		bad := strings.Replace(good, c[0], c[1], 1)
		if bad == good || schema.Validate(decoded(t, bad)[0]) == nil {
			t.Errorf("%s instead of %s: found no error", c[1], c[0])
		}
	}
}

func pod(x map[string]any) map[string]any {
	return x["spec"].(map[string]any)["template"].(map[string]any)["spec"].(map[string]any)
}

// containerScript returns the script of the first container and its
// environment, expanded as Kubernetes does it: $$ is a dollar sign, $(NAME) a
// variable that is known, and everything else stays.
func containerScript(t *testing.T, x map[string]any, kind string) (string, map[string]string) {
	t.Helper()
	c := pod(x)[kind].([]any)[0].(map[string]any)
	env := map[string]string{}
	for _, v := range c["env"].([]any) {
		v := v.(map[string]any)
		env[v["name"].(string)] = expanded(v["value"].(string), env)
	}
	return expanded(c["args"].([]any)[0].(string), env), env
}

func expanded(s string, env map[string]string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] != '$' || i+1 == len(s) {
			b.WriteByte(s[i])
			continue
		}
		switch s[i+1] {
		case '$':
			b.WriteByte('$')
			i++
		case '(':
			end := strings.IndexByte(s[i:], ')')
			if v, ok := env[s[i+2:max(i+2, i+end)]]; end > 0 && ok {
				b.WriteString(v)
				i += end
				continue
			}
			b.WriteByte('$')
		default:
			b.WriteByte('$')
		}
	}
	return b.String()
}

// TestKubernetesScripts runs the scripts of the manifest, with the index that
// Kubernetes sets, on this program: what comes out is what one process makes.
func TestKubernetesScripts(t *testing.T) {
	if _, err := os.Stat("/bin/sh"); err != nil {
		t.Skip("this system has no /bin/sh: the scripts cannot be run")
	}
	for _, name := range oddNames[3:4] {
		file := populationFile(t, name)
		dir := filepath.Dir(file)
		text := printed(t, "population", "job", "kubernetes", "--shards", "3", "--image", "i", "--claim", "c", "--program", os.Args[0], "--waveforms", "w.csv", "--folder", "a 'b", "--", file)
		jobs := decoded(t, text)
		run := func(x map[string]any, kind, index string) error {
			script, env := containerScript(t, x, kind)
			cmd := exec.Command("/bin/sh", "-c", script)
			cmd.Dir = dir
			cmd.Env = append(os.Environ(), asProgram+"=1", "JOB_COMPLETION_INDEX="+index)
			for k, v := range env {
				cmd.Env = append(cmd.Env, k+"="+v)
			}
			text, err := cmd.CombinedOutput()
			if err != nil {
				t.Logf("%s", text)
			}
			return err
		}
		if err := run(jobs[1], "containers", ""); err == nil {
			t.Error("found a merge without parts, expected it to fail")
		}
		for _, index := range []string{"2", "0", "1", "1"} { // one of them twice
			if err := run(jobs[0], "containers", index); err != nil {
				t.Fatalf("index %s: %v", index, err)
			}
		}
		for _, kind := range []string{"initContainers", "containers"} {
			if err := run(jobs[1], kind, ""); err != nil {
				t.Fatalf("%s of the merge: %v", kind, err)
			}
		}
		one := filepath.Join(dir, "one.parquet")
		printed(t, "population", "data", "--out", one, "--waveforms", filepath.Join(dir, "one.csv"), "--", file)
		for _, pair := range [][2]string{{one, "all.parquet"}, {filepath.Join(dir, "one.csv"), "w.csv"}} {
			want, err := os.ReadFile(pair[0])
			if err != nil {
				t.Fatal(err)
			}
			if got, err := os.ReadFile(filepath.Join(dir, pair[1])); err != nil || !bytes.Equal(got, want) {
				t.Errorf("%s: found %v or other bytes than of one process", pair[1], err)
			}
		}
	}
}

// TestSlurmJob: bash takes the printed script whatever the names are, and
// gives the array and the merge to sbatch, here a stand-in that keeps what it
// is given. The script runs on a real cluster in .ci/slurm.
func TestSlurmJob(t *testing.T) {
	bash, err := exec.LookPath("bash")
	if err != nil {
		t.Skip("bash is not in the path: the script cannot be run")
	}
	for i, name := range oddNames {
		file := populationFile(t, name)
		dir := filepath.Dir(file)
		if err := os.WriteFile(filepath.Join(dir, "sbatch"), []byte("#!/bin/bash\nn=$(ls job-* 2>/dev/null | wc -l)\necho \"$@\" >args-$n\ncat >job-$n\necho \"7$n;cluster\"\n"), 0o777); err != nil {
			t.Fatal(err)
		}
		script := printed(t, "population", "job", "slurm", "--shards", "3", "--at-once", "2", "--partition", "long", "--time", "90 min", "--program", os.Args[0], "--", file)
		run := func(text string, env ...string) string {
			cmd := exec.Command(bash, "-c", text)
			cmd.Dir = dir
			cmd.Env = append(os.Environ(), append(env, asProgram+"=1", "PATH="+dir+":"+os.Getenv("PATH"))...)
			out, err := cmd.CombinedOutput()
			if err != nil {
				t.Fatalf("%s: %v: %s", name, err, out)
			}
			return string(out)
		}
		if got := run(script); got != "shards: job 70; merge: job 71\n" {
			t.Errorf("found %q", got)
		}
		read := func(name string) string {
			text, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			return string(text)
		}
		shards := read("job-0")
		for _, want := range []string{"#SBATCH --array=1-3%2\n", "#SBATCH --requeue\n", "#SBATCH --time=90\n", "#SBATCH --mem=1024M\n", "#SBATCH --partition=long\n"} {
			if !strings.Contains(shards, want) {
				t.Errorf("found no %q in\n%s", want, shards)
			}
		}
		if got := read("args-1"); got != "--parsable --dependency=afterok:70 --kill-on-invalid-dep=yes\n" {
			t.Errorf("found %q", got)
		}
		if i%3 != 0 { // what is in the file is told; two are run
			got := run(shards[strings.Index(shards, "file="):strings.Index(shards, "\nfolder=")] + "\necho \"$file\"")
			if got != file+"\n" {
				t.Errorf("found the file %q, expected %q", got, file)
			}
			continue
		}
		for _, k := range []string{"1", "2", "3"} {
			run(shards, "SLURM_ARRAY_TASK_ID="+k)
		}
		run(read("job-1"))
		one := filepath.Join(dir, "one.parquet")
		printed(t, "population", "data", "--out", one, "--", file)
		if read("one.parquet") != read("all.parquet") {
			t.Errorf("%s: found other bytes than of one process", name)
		}
	}
}

// TestJobBad: what would end in a broken job file is misuse.
func TestJobBad(t *testing.T) {
	file := populationFile(t, "p.toml")
	k8s := []string{"population", "job", "kubernetes", file, "--shards", "2", "--image", "i", "--claim", "c"}
	slurm := []string{"population", "job", "slurm", file, "--shards", "2"}
	for _, c := range []struct {
		base []string
		more []string
		want string
	}{
		{slurm, []string{"--shards", "0"}, "--shards: found 0"},
		{slurm, []string{"--shards", "6"}, "--shards: found 6, expected at most 5"},
		{slurm, []string{"--partition", "a b"}, "--partition"},
		{slurm, []string{"--name", "Name"}, "--name"},
		{slurm, []string{"--folder", "a\nEND_OF_JOB\nrm"}, "--folder"},
		{slurm, []string{"--out", ""}, "--out"},
		{slurm, []string{"--time", "1 s"}, "--time"},
		{slurm, []string{"--memory", "1"}, "--memory"},
		{k8s, []string{"--image", ""}, "--image"},
		{k8s, []string{"--image", "a b"}, "--image"},
		{k8s, []string{"--claim", "A"}, "--claim"},
		{k8s, []string{"--mount", "data"}, "--mount"},
		{k8s, []string{"--waveforms", "a\tb"}, "--waveforms"},
	} {
		var out, errs bytes.Buffer
		args := append(append([]string{}, c.base...), c.more...)
		if code := Execute(context.Background(), args, strings.NewReader(""), &out, &errs); code != Misuse || !strings.Contains(errs.String(), c.want) || out.Len() > 0 {
			t.Errorf("%q: found exit code %d: %s", c.more, code, errs.String())
		}
	}
}

// asProgram makes the binary of the tests the program itself.
const asProgram = "BOILWRIGHT_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		os.Exit(Execute(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}
	os.Exit(m.Run())
}
