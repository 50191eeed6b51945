#!/bin/sh
# Prescribes the demo inventory with the programs in bin/ and leaves the results
# in out/. `make demo` builds and calls it. It runs a server of its own on a unix
# socket, the way a server is used by several people, and stops it at the end.
set -eu
cd "$(dirname "$0")/../.."

for program in rootwardd rootward rules; do
	test -e "bin/$program" || {
		echo "bin/$program is missing: run 'make build' first." >&2
		exit 1
	}
done

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
	rm -rf "$folder"
}
trap stop EXIT
trap 'exit 1' HUP INT PIPE TERM

mkfifo "$folder/ready"
bin/rootwardd --listen "unix:$folder/rootward.sock" --rules bin/rules --water testdata/demo/water --log-level warn >"$folder/ready" &
server=$!
# The server says one line when it is ready, and nothing if it cannot start.
if ! read -r word address <"$folder/ready" || [ "$word" != ready ]; then
	echo "The server did not start; what it says stands above." >&2
	exit 1
fi

mkdir -p out
bin/rootward prescribe testdata/demo/inventory.csv --date 2026-08-10 \
	--server "$address" --standing certified \
	--out-csv out/prescriptions.csv --out-geojson out/prescriptions.geojson \
	--sheet out/field-sheet.html

echo
echo "The place, its law and its trees are invented. Open out/field-sheet.html in a"
echo "browser and print it; docs/result-format.md says what the columns hold."
