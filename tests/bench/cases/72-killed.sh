# SPDX-License-Identifier: MIT
# kill -9 in mid-recording: nothing older than a second is lost, what is there
# opens, and a new daemon takes the place of the old one.
sender_up can1
start_daemon -i can0=500000
candump -L can1 > sent &
reference=$!
background+=("$reference")
cangen can1 -g 10 -I 2A0 -L 8 -D i -n 2000 &
background+=("$!")
sleep 4
nodoff mark isolated F12 > marked
sleep 0.5
kill -KILL "$daemon"
killed=$(date +%s.%N)
kill "$reference"
path=$(ls -d sessions/*)
zstdcat "$path"/frames-*.log.zst 2> /dev/null | grep -v '^#' | cut -d' ' -f3 > heard
awk -v limit="$killed" '{ gsub(/[()]/, "", $1); if ($1 < limit - 1.0) print $3 }' sent > due
check "there was something to lose" test "$(wc -l < due)" -gt 100
check "everything older than a second is there" same_file due <(grep -Fxf due heard)
check "the journal has what was acknowledged" grep -qFx "$(cat marked)" "$path/journal.log"
check "the session opens" nodoff analyse "$path"
zstdcat "$path"/frames-*.log.zst > whole 2> /dev/null
check "canplayer opens it" canplayer -t -v -I whole can1=can0
start_daemon -i can0=500000
wait_for 5 status_says 'can0: listening'
check "a new daemon starts by itself in a new session" equal "$(ls -d sessions/* | wc -l)" 2
stop_daemon
finish
