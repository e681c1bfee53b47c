# SPDX-License-Identifier: MIT
# The system clock is set while recording: noted in the journal, no order lost.
# The emulated controllers have room for a few frames: a host that stops the whole machine for a
# moment makes them lose some, which nodoffd says. Nothing can be said of their order then, so it
# is tried again; frames that are lost by nodoffd itself are missed in each attempt.
sender_up can1
record_across_steps() {
	start_daemon -i can0=500000
	cangen can1 -g 10 -I 2A0 -L 8 -D i -n 600 &
	sender=$!
	sleep 1.5
	date -s "@$(($(date +%s) + 3600))" > /dev/null
	sleep 1.5
	date -s "@$(($(date +%s) - 7200))" > /dev/null
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
check "a step forward is in the journal" grep -qE 'clock step \+(3599|3600)\.[0-9]+ s$' "$path/journal.log"
check "a step back, too" grep -qE 'clock step -(7200|7199|7201)\.[0-9]+ s$' "$path/journal.log"
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
