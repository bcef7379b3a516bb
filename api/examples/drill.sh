#!/bin/sh
# Where to drill, and a drawing of it for CAD. Asks a running Beltspan over REST.
#
#     sh drill.sh H5M 36 45 178 drive.dxf
#
# Section, driver teeth, driven teeth, belt teeth, and the file to write, .dxf or
# .svg. Needs curl. BELTSPAN_URL, BELTSPAN_CA_FILE and BELTSPAN_TOKEN tell of
# another service than that of this machine. Start that one first: beltspan serve
set -eu
export LC_ALL=C # numbers have a point

if [ $# -ne 5 ]; then
	echo "usage: sh drill.sh SECTION DRIVER DRIVEN BELT FILE.dxf" >&2
	exit 2
fi
case $5 in
*.svg) format=DRAWING_FORMAT_SVG ;;
*.dxf) format=DRAWING_FORMAT_DXF ;;
*)
	echo "$5: give a name that ends in .dxf or .svg" >&2
	exit 2
	;;
esac
service=${BELTSPAN_URL:-http://127.0.0.1:8017}
service=${service%/}
answer=$(mktemp)
trap 'rm -f "$answer"' EXIT

# ask puts the answer into a file. A refusal is told and ends the script. The
# token, if there is one, goes where a list of processes does not show it.
ask() {
	status=$(printf '%s\n' "${BELTSPAN_TOKEN:+header = \"Authorization: Bearer $BELTSPAN_TOKEN\"}" |
		curl --config - --silent --show-error --max-time 30 ${BELTSPAN_CA_FILE:+--cacert "$BELTSPAN_CA_FILE"} \
			--output "$answer" --write-out '%{http_code}' "$@") || exit 1
	if [ "$status" != 200 ]; then
		# JSON or one line of text; jq -r .message would do as well.
		sed -E 's/^\{"code": *[0-9]+, *"message": *"(([^"\\]|\\.)*)".*/\1/; s/\\"/"/g' "$answer" >&2
		echo >&2
		exit 1
	fi
}

# A question of plain values is a GET, and format=number wants one number.
ask --get "$service/drive" --data-urlencode "section=$1" --data-urlencode "driver=$2" \
	--data-urlencode "driven=$3" --data-urlencode "belt=$4" --data format=number
printf 'second axle at x = %.4f mm\n' "$(cat "$answer")"

ask "$service/v1/drives:draw" --header 'Content-Type: application/json' --data '{
  "drive": {
    "section": "'"$1"'",
    "driver": {"toothCount": '"$2"'},
    "driven": {"toothCount": '"$3"'},
    "beltToothCount": '"$4"'
  },
  "format": "'"$format"'"
}'
cat "$answer" >"$5" # not cp, which keeps others from reading it as mktemp does
echo "drawn to scale in $5"
