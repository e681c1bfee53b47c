# SPDX-License-Identifier: MIT
# A shipped session, played by canplayer on two buses in its own time: what
# nodoffd finds is what the file analysis finds, and what it says at the end of
# its recording is, byte for byte, what that recording says when it is read.
ip link set can1 name tx0
ip link set can2 name can1
ip link set can3 name tx1
sender_up tx0
sender_up tx1 250000
cp -r /bench/healthy shipped
start_daemon --vehicle shipped/vehicle.yaml
canplayer -I shipped/frames.log tx0=can0 tx1=can1 &
player=$!
# locked as long after the first frame as in the shipped journal
sleep 9.6
nodoff mark locked > /dev/null
wait $player
sleep 8
nodoff record answer > before
nodoff record stop --json > stopped
path=$(grep -o '"path": *"[^"]*"' stopped | cut -d'"' -f4)
nodoff analyse --full "$path" > replayed
check "the recording was judged" grep -q 'body and drive sleep in time' replayed
printf '%b' "$(grep -o '"text": *"[^"]*"' stopped | cut -d'"' -f4)" > live
check "live and replayed answers are the same, byte for byte" same_file live replayed
check "the answer before the end is of the same kind" same_file <(head -3 before) <(head -3 replayed)

# The shipped files, cut where this recording ended, must say the same.
end=$(grep '^(' shipped/frames.log | tail -1 | tr -d '()' | cut -d. -f1)
grep -v stopped shipped/journal.log > journal
echo "($((end + 8)).000000) stopped" >> journal
cp journal shipped/journal.log
nodoff analyse --full shipped > filed
check "the verdict is that of the shipped session" same_file <(head -3 filed) <(head -3 replayed)
frames() { grep -h '^(' "$@" | cut -d' ' -f2,3 | sort; }
zstdcat "$path"/frames-*.log.zst > heard
check "every frame of both networks is in the recording" same_file <(frames shipped/frames.log) <(frames heard)
stop_daemon
ip link set can1 down
ip link set tx0 down
ip link set tx1 down
ip link set can1 name can2
ip link set tx0 name can1
ip link set tx1 name can3
finish
