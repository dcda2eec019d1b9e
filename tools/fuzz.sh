#!/usr/bin/env bash
# fuzz.sh TIME
# Runs every fuzz target of the tree for TIME, one after another.
set -euo pipefail
time=$1

# fuzz FOLDER TARGET TIME
# The time is for looking, not for making what is new smaller: targets that write to a database never cover the same lines
# twice, and would do nothing else.
fuzz() {
	go test "$1" -run '^$' -fuzz "^$2\$" -fuzztime "$3" -fuzzminimizetime 10x
}

log=$(mktemp)
trap 'rm -f "$log"' EXIT
count=0
while IFS=: read -r file target; do
	folder=$(dirname "$file")
	echo "-- $folder $target"
	count=$((count + 1))
	if fuzz "$folder" "$target" "$time" >"$log" 2>&1; then
		tail -n 1 "$log"
		continue
	fi
	# Go now and then reports its own deadline as a failure, most of all while it still reads what earlier runs found. A run by
	# count has no deadline and decides.
	if grep -q 'context deadline exceeded' "$log" && ! grep -q 'Failing input written' "$log"; then
		echo "the time was over before the first round; once more by count"
		fuzz "$folder" "$target" 2000x
		continue
	fi
	cat "$log"
	exit 1
done < <(grep -rHoE --include='*_test.go' --exclude-dir=node_modules '^func Fuzz\w+' . | sed 's/:func /:/' | sort)
if ((count == 0)); then
	echo "fuzz.sh: no fuzz target was found" >&2
	exit 1
fi
