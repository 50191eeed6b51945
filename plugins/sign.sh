#!/bin/sh
# Signs the rule sets that were built here with a key that was made here, and pins
# them, so that the server runs what the build made and nothing else.
#
#   plugins/sign.sh ROOTWARD KEYS RULES     program, folder of the key, folder of rule sets
set -eu
rootward=$1 keys=$2 rules=$3
key=$keys/built-here.key

mkdir -p "$keys"
[ -e "$key" ] && [ -s "$keys/built-here.verifier" ] || {
	rm -f "$key"
	"$rootward" rules keygen built-here --out "$keys" | sed -n 's/^ *- //p' >"$keys/built-here.verifier"
}
cat >"$rules/trust.yaml" <<END
agencies:
  - name: whoever built this copy of Rootward
    keys: [$(cat "$keys/built-here.verifier")]
    places: [us]
    layers: [biology, federal, state, district, owner]
    first_party: true
END
rm -f "$rules/rules.lock"
for build in "$rules"/*; do
	case $build in
	*.release | *.yaml | *.lock) ;;
	*) "$rootward" rules sign "$build" --key "$key" >/dev/null ;;
	esac
done
"$rootward" rules pin "$rules" --decided-by "make build" >/dev/null
