#!/bin/sh
# The program itself: exit statuses, standard streams, colour and locale from the
# environment, and `check` with a stand-in for the daemon. Exit 0 pass, 1 fail.
#
#   cli_program_test.sh RIMEWARD
set -u
program=$1
folder=$(mktemp -d) || exit 1
trap 'rm -rf "$folder"' EXIT
# A copy, so that the daemon beside it is the stand-in.
cp "$program" "$folder/rimeward"
failures=0

# expect STATUS PATTERN WORDS...: the exit status, and what either stream must show.
expect() {
  status=$1 pattern=$2
  shift 2
  output=$("$@" 2>&1)
  got=$?
  if [ "$got" != "$status" ]; then
    echo "expected status $status, got $got: $*"
    echo "$output"
    failures=$((failures + 1))
  fi
  if ! printf '%s\n' "$output" | grep -q -e "$pattern"; then
    echo "expected \"$pattern\" from: $*"
    echo "$output"
    failures=$((failures + 1))
  fi
}

cat > "$folder/garden.toml" <<END
[garden]
name = "Hochfeld school garden"
latitude = 48.41
longitude = 9.52
time_zone = "Europe/Berlin"
[broker]
listen = ["garden/#"]
[store]
file = "$folder/garden.db"
[[place]]
id = "yard"
name = "Yard"
kind = "outdoors"
[[sensor]]
id = "yard-probe"
place = "yard"
topic = "garden/yard/climate"
END
sed 's/^latitude/lattitude/' "$folder/garden.toml" > "$folder/bad.toml"
rimeward="$folder/rimeward"
config="$folder/garden.toml"

expect 0 'rimeward VERB --help' "$rimeward" --help
expect 0 '^rimeward [0-9]' "$rimeward" --version
expect 2 'did you mean "week"' "$rimeward" weak
expect 2 'unknown option' "$rimeward" now --jsno
expect 1 'no such file' "$rimeward" --config "$folder/none.toml" now
expect 1 'bad.toml:.*did you mean "latitude"' "$rimeward" --config "$folder/bad.toml" now
expect 1 'start rimewardd once' "$rimeward" --config "$config" now
# Writing must not make a store of its own.
expect 1 'start rimewardd once' "$rimeward" --config "$config" cover yard
if [ -e "$folder/garden.db" ]; then
  echo "cover made a store"
  failures=$((failures + 1))
fi

# check: without a daemon, with one that is content, with one that is not.
expect 1 'neither beside this program nor on PATH' \
  env PATH="$folder/empty" "$rimeward" --config "$config" check
printf '#!/bin/sh\necho "broker answers ($*)"\n' > "$folder/rimewardd"
chmod +x "$folder/rimewardd"
expect 0 "broker answers (--config $config --store $folder/garden.db --check)" \
  "$rimeward" --config "$config" check
expect 0 "broker answers (--config $config --store $folder/garden.db --check --routes)" \
  "$rimeward" --config "$config" check --routes
expect 0 '"daemon_good": true' "$rimeward" --config "$config" check --json
expect 1 '^.*bad.toml:3: .*latitude' "$rimeward" --config "$folder/bad.toml" check
printf '#!/bin/sh\necho "no broker" >&2\nexit 1\n' > "$folder/rimewardd"
expect 1 'no broker' "$rimeward" --config "$config" check
echo 'this is no store, only a line of text that stands in its place' > "$folder/garden.db"
expect 1 'garden.db' "$rimeward" --config "$config" check
expect 1 'garden.db' "$rimeward" --config "$config" now

# Answers go to stdout, trouble to stderr; no colour but on a terminal; a full disk is
# told.
if "$rimeward" weak 2> /dev/null | grep -q .; then
  echo "a misuse wrote to stdout"
  failures=$((failures + 1))
fi
if LC_ALL=C "$rimeward" now --help | LC_ALL=C grep -q '[^ -~]'; then
  echo "the C locale was sent more than ASCII"
  failures=$((failures + 1))
fi
if ! LC_ALL=C.UTF-8 "$rimeward" now --help | grep -q '°C'; then
  echo "a UTF-8 locale lost its degree sign"
  failures=$((failures + 1))
fi
if [ -w /dev/full ] && "$rimeward" --help > /dev/full 2> /dev/null; then
  echo "a full disk was not told"
  failures=$((failures + 1))
fi
widest=$(COLUMNS=50 LC_ALL=C "$rimeward" 2> /dev/null |
  awk '{ if (length > w) w = length } END { print w }')
if [ "$widest" -gt 50 ]; then
  echo "COLUMNS=50 got a line of $widest"
  failures=$((failures + 1))
fi

[ "$failures" = 0 ] && echo "rimeward: all as expected"
[ "$failures" = 0 ]
