#!/bin/sh
# Fights for one invented site through three seasons with the programs in bin/, by a
# made-up clock, and leaves plan, plots and the log in out/. `make demo` calls it.
set -eu
cd "$(dirname "$0")/../.."
files=testdata/campaign
site=sites/lock-island

# The path of a socket has at most 107 bytes: below a long TMPDIR it would not fit.
parent=${TMPDIR:-/tmp}
if [ "${#parent}" -gt 60 ]; then
	parent=/tmp
fi
folder=$(mktemp -d "$parent/rootward.XXXXXX")
server=
stop() {
	if [ -n "$server" ]; then
		kill "$server" 2>/dev/null || true
		wait "$server" 2>/dev/null || true
		server=
	fi
}
trap 'stop; rm -rf "$folder"' EXIT
trap 'exit 1' HUP INT PIPE TERM

# on DAY starts the server anew, on a day of the rehearsal. What was kept is there again.
on() {
	stop
	rm -f "$folder/ready"
	mkfifo "$folder/ready"
	bin/rootwardd --listen "unix:$folder/rootward.sock" --rules bin/rules --data "$folder/data" --rehearse "$1" --log-level error >"$folder/ready" &
	server=$!
	if ! read -r word address <"$folder/ready" || [ "$word" != ready ]; then
		echo "The server did not start; what it says stands above." >&2
		exit 1
	fi
	echo
	echo "== $1"
}
rootward() {
	bin/rootward "$@" --server "$address" --quiet
}

mkdir -p out
rm -rf out/records

on 2026-07-03
rootward sites add lock-island --file $files/site.yaml
rootward surveys add $site first --file $files/survey.yaml --stems $files/stems.csv
rootward plans make summer-2026 --file $files/plan-2026.yaml --out-ics out/summer-2026.ics

on 2026-07-15
rootward day plans/summer-2026 lock-island-3 --time 2026-07-15T08:10-04:00 --duration-min 70 \
	--wind-mph 5 --gust-mph 7 --temperature-f 70 --humidity-percent 62 --inversion no --bark dry --soil moist \
	--forecast $files/forecast-2026.csv --rain-free-h 6

on 2026-07-16
for job in 1 2 3 4; do
	rootward records add $site july-2026-$job --file $files/record-2026-$job.yaml
done

on 2026-11-21
rootward visits add $site felled --file $files/visit-2026.yaml

on 2027-06-21
rootward visits add $site june-2027 --file $files/visit-2027.yaml \
	--found root_sucker=$files/suckers-2027.csv --found survivor=$files/survivors-2027.csv
rootward plans make summer-2027 --file $files/plan-2027.yaml

on 2027-07-20
for job in 1 2; do
	rootward records add $site july-2027-$job --file $files/record-2027-$job.yaml
done

on 2028-10-15
rootward visits add $site june-2028 --file $files/visit-2028.yaml
rootward progress $site --date 2028-10-15 --out-svg out/decline.svg --out-map out/where-to-look.svg
rootward records export out/records
key=$(rootward records key)
stop
bin/rootward records verify out/records --key "$key"

echo
echo "A rehearsal: the place, its trees, its people and its years are invented. Open"
echo "out/decline.svg and out/where-to-look.svg; docs/campaign.md tells what was done."
