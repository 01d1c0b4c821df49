// Job decodes the Kubernetes manifest on its standard input with the types that
// Kubernetes publishes for batch/v1, and strictly: a name that they do not have,
// or a value of another type, is an error. It prints the names of the Jobs.
package main

import (
	"fmt"
	"io"
	"os"
	"strings"

	batch "k8s.io/api/batch/v1"
	"sigs.k8s.io/yaml"
)

func main() {
	text, err := io.ReadAll(os.Stdin)
	if err == nil {
		err = check(string(text))
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func check(manifest string) error {
	for i, document := range strings.Split(manifest, "\n---\n") {
		var j batch.Job
		if err := yaml.UnmarshalStrict([]byte(document), &j); err != nil {
			return fmt.Errorf("document %d: %w", i+1, err)
		}
		if j.APIVersion != "batch/v1" || j.Kind != "Job" || j.Name == "" || len(j.Spec.Template.Spec.Containers) != 1 {
			return fmt.Errorf("document %d: found %s %s %q, expected a batch/v1 Job with a container", i+1, j.APIVersion, j.Kind, j.Name)
		}
		fmt.Println(j.Name)
	}
	return nil
}
