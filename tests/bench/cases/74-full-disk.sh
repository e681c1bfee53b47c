# SPDX-License-Identifier: MIT
# A full disk: the analysis goes on, the user is told at once, what was written
# stays whole, and recording resumes when there is room.
mkdir sessions
mount -t tmpfs -o size=512k full sessions
sender_up can1
start_daemon -i can0=500000
cangen can1 -g 2 -I 2A0 -L 8 -D i -n 100
wait_for 5 status_says 'listening, 100 frames'
sleep 1
dd if=/dev/zero of=sessions/filler bs=4k > /dev/null 2>&1
cangen can1 -g 2 -I 2A1 -L 8 -D r -n 1000
wait_for 10 status_says 'cannot be written: No space left'
check "it is said that nothing can be written" status_says 'cannot be written: No space left'
check "on standard error, too" grep -q 'the recording cannot be written: No space left' daemon.log
check "it goes on listening" status_says 'can0: listening, 1100 frames, 0 lost'
nodoff live --plain > plain &
plain=$!
wait_for 5 grep -q 'can0: awake' plain
check "and judging" grep -q 'can0: awake' plain
kill $plain
# The journal's last page has some room left; then marks are refused.
acknowledged=0 refused=0
long=$(printf '%0900d' 0)
for i in 1 2 3 4 5 6 7 8; do
	if nodoff mark note "$long $i" > /dev/null 2> said; then
		acknowledged=$((acknowledged + 1))
	else
		refused=$((refused + 1))
	fi
done
check "a mark that is not on the disk is not acknowledged" test $refused -gt 0
check "it is said why" grep -q 'not on the disk: No space left' said
path=$(ls -d sessions/2*)
check "what was written before opens whole" equal \
	"$(zstdcat "$path"/frames-*.log.zst | grep -c 2A0#)" 100
check "every mark that was acknowledged is in the journal" test \
	"$(grep -c 'note 0000' "$path/journal.log")" -ge $acknowledged
rm sessions/filler
wait_for 10 grep -q 'is written again' daemon.log
check "it goes on by itself when there is room" grep -q 'is written again' daemon.log
cangen can1 -g 2 -I 2A2 -L 8 -D i -n 100
wait_for 5 status_says 'listening, 1200 frames'
nodoff mark note kept > said
path=$(nodoff record stop | tail -1)
check "with what came meanwhile" equal "$(zstdcat "$path"/frames-*.log.zst | grep -c 2A1#)" 1000
check "and what comes after" equal "$(zstdcat "$path"/frames-*.log.zst | grep -c 2A2#)" 100
check "and the journal, too" grep -q 'note kept' "$path/journal.log"
stop_daemon
umount sessions
finish
