# SPDX-License-Identifier: MIT
# The laptop is suspended while recording. The kernel goes all the way but for
# the last call of the firmware (pm_test "core"), from which this machine would
# not come back: clocks stop, and the time that passed is read from the clock
# chip. The kernel stays there for five seconds. What the controllers do when they
# are really suspended is not tried.
sender_up can1
start_daemon -i can0=500000
cangen can1 -g 10 -I 2A0 -L 8 -D i -n 100
wait_for 5 status_says 'listening, 100 frames'
echo core > /sys/power/pm_test
echo mem > /sys/power/state
echo none > /sys/power/pm_test
wait_for 5 grep -q 'was suspended' daemon.log
check "it is said" grep -qE 'suspended for [0-9]+\.[0-9]+ s: nobody listened' daemon.log
cangen can1 -g 10 -I 2A1 -L 8 -D i -n 100
sleep 1
nodoff record stop --json > stopped
path=$(grep -o '"path": *"[^"]*"' stopped | cut -d'"' -f4)
check "the gap is in the journal" grep -qE 'gap all [0-9]+\.[0-9]+ s$' "$path/journal.log"
check "the clock was not set" lacks "$(cat "$path/journal.log" daemon.log)" 'clock'
check "what was heard before is there" equal "$(zstdcat "$path"/frames-*.log.zst | grep -c ' 2A0#')" 100
printf '%b' "$(grep -o '"text": *"[^"]*"' stopped | cut -d'"' -f4)" > live
nodoff analyse --full "$path" > replayed
check "live and replayed answers are the same" same_file live replayed
check "the silence in it is not taken for sleep" grep -qE 'can0 .* silence not known' replayed
check "nor what follows for a wake-up" equal "$(nodoff wakeups "$path" | head -1)" '0 of 0 wake-ups'
stop_daemon
finish
