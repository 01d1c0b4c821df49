#!/bin/bash
# A population in {{.Shards}} shards: an array of Slurm jobs, one a shard, and a job that
# merges what they computed when all of them are done. Everything is simulated.
#
# Run this file with bash where sbatch is, in the folder from which the names
# below are meant, on a file system that the nodes share. A shard that was
# stopped goes on where it was: submitting again repeats nothing that is done.
set -euo pipefail

program={{shell .Program}}
folder={{shell .Folder}}
if ! command -v "$program" >/dev/null; then
  echo "$program: found no such program here, expected the one that the nodes run" >&2
  exit 1
fi
mkdir -p -- "$folder"

shards() {
  cat <<'END_OF_JOB'
#!/bin/bash
#SBATCH --job-name={{.Name}}-shards
#SBATCH --array=1-{{.Shards}}{{if .AtOnce}}%{{.AtOnce}}{{end}}
#SBATCH --ntasks=1
#SBATCH --cpus-per-task={{.Workers}}
#SBATCH --mem={{.Memory}}M
#SBATCH --time={{.Minutes}}
{{- if .Partition}}
#SBATCH --partition={{.Partition}}{{end}}
#SBATCH --requeue
#SBATCH --open-mode=append
#SBATCH --output={{.Name}}-%A-%a.log
set -uo pipefail
program={{shell .Program}}
file={{shell .File}}
folder={{shell .Folder}}
shard=$SLURM_ARRAY_TASK_ID
code=3
for ((try = 0; try <= {{.Retries}}; try++)); do
  "$program" population data --shard "$shard/{{.Shards}}" --workers {{.Workers}} --out "$folder/part-$shard" -- "$file"
  code=$?
  # 0 is done; 1 and 2 are wrong input and misuse, which no retry mends.
  if ((code <= 2)); then
    break
  fi
done
exit "$code"
END_OF_JOB
}

merge() {
  cat <<'END_OF_JOB'
#!/bin/bash
#SBATCH --job-name={{.Name}}-merge
#SBATCH --ntasks=1
#SBATCH --cpus-per-task=1
#SBATCH --mem={{.Memory}}M
#SBATCH --time={{.Minutes}}
{{- if .Partition}}
#SBATCH --partition={{.Partition}}{{end}}
#SBATCH --requeue
#SBATCH --open-mode=append
#SBATCH --output={{.Name}}-%j.log
set -euo pipefail
program={{shell .Program}}
folder={{shell .Folder}}
parts=()
for ((shard = 1; shard <= {{.Shards}}; shard++)); do
  parts+=("$folder/part-$shard")
done
"$program" population merge --out {{shell .Out}}{{if .Waveforms}} --waveforms {{shell .Waveforms}}{{end}} -- "${parts[@]}"
END_OF_JOB
}

array=$(shards | sbatch --parsable)
array=${array%%;*}
merged=$(merge | sbatch --parsable --dependency="afterok:$array" --kill-on-invalid-dep=yes)
echo "shards: job $array; merge: job ${merged%%;*}"
