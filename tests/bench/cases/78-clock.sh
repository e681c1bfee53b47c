# SPDX-License-Identifier: MIT
# The system clock is set while recording: noted in the journal, no order lost.
# The emulated controllers have room for a few frames: a host that stops the whole machine for a
# moment makes them lose some, which nodoffd says. Nothing can be said of their order then, so it
# is tried again; frames that are lost by nodoffd itself are missed in each attempt.
sender_up can1

uptime_s() {
	cut -d' ' -f1 /proc/uptime
}

# Sets the clock by so many seconds and prints how long that took, s.
set_clock() {
	from=$(uptime_s)
	date -s "@$(($(date +%s) + $1))" > /dev/null
	echo "$from $(uptime_s)" | awk '{ print $2 - $1 }'
}

# The journal has that step, less the part of a second that date does not read, and less what the
# clock went on while it was read and set (took).
step_is_noted() {
	grep 'clock step' "$path/journal.log"
	awk -v set="$1" -v took="$2" '/clock step .* s$/ {
		less = set - $(NF - 1)
		noted += less > -0.02 && less < 1.02 + took
	} END { exit noted != 1 }' "$path/journal.log"
}

record_across_steps() {
	start_daemon -i can0=500000
	cangen can1 -g 10 -I 2A0 -L 8 -D i -n 600 &
	sender=$!
	sleep 1.5
	forward_took=$(set_clock 3600)
	sleep 1.5
	back_took=$(set_clock -7200)
	wait $sender
	wait_for 5 status_says 'listening, 600 frames'
	nodoff record status > told
	nodoff record stop --json > stopped
}
record_across_steps
for attempt in 2 3; do
	grep -q 'frames, 0 lost' told && break
	echo "# $case_name: the controller lost frames, attempt $attempt"
	stop_daemon
	date -s "@$(($(date +%s) + 3600))" > /dev/null
	sleep 2
	record_across_steps
done
path=$(grep -o '"path": *"[^"]*"' stopped | cut -d'"' -f4)
check "a step forward is in the journal" step_is_noted 3600 "$forward_took"
check "a step back, too" step_is_noted -7200 "$back_took"
zstdcat "$path"/frames-*.log.zst | grep -v '^#' > heard
check "every frame is there" equal "$(wc -l < heard)" 600
# cangen counts in the payload, low byte first
cut -d'#' -f2 heard | sed 's/\(..\)\(..\).*/\2\1/' > counted
check "in the order in which they came" sort -c counted
check "each on the clock of its time" equal "$(awk '{ gsub(/[()]/, "", $1)
	if (last && ($1 - last > 100 || last - $1 > 100)) steps++
	last = $1 } END { print steps }' heard)" 2
printf '%b' "$(grep -o '"text": *"[^"]*"' stopped | cut -d'"' -f4)" > live
nodoff analyse --full "$path" > replayed
check "live and replayed answers are the same" same_file live replayed
stop_daemon
date -s "@$(($(date +%s) + 3600))" > /dev/null
finish
