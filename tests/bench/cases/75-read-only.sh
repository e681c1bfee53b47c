# SPDX-License-Identifier: MIT
# A read-only disk. While a recording has files open the kernel refuses to make
# theirs read-only; between recordings it does not: then it is said why none can
# begin, listening goes on, and the next begins when it can.
mkdir sessions
mount -t tmpfs disk sessions
sender_up can1
start_daemon -i can0=500000
cangen can1 -g 5 -I 2A0 -L 8 -D i -n 100
wait_for 5 status_says 'listening, 100 frames'
mount -o remount,ro sessions 2> /dev/null
check "a recording keeps its disk writable" touch sessions/writable
path=$(nodoff record stop | tail -1)
mount -o remount,ro sessions
nodoff record start > said 2>&1
check "no recording begins on a read-only disk" test $? -ne 0
check "it is said why" grep -qi 'read-only' said
cangen can1 -g 5 -I 2A1 -L 8 -D i -n 100
check "it goes on listening" wait_for 5 status_says 'can0: listening, [12]00 frames'
nodoff mark note "not recorded" > said 2>&1
check "a mark is refused" grep -q 'no session is being recorded' said
check "what was recorded opens" nodoff analyse "$path"
mount -o remount,rw sessions
check "a recording begins when it can" nodoff record start
cangen can1 -g 5 -I 2A2 -L 8 -D i -n 100
sleep 1
path=$(nodoff record stop | tail -1)
check "and holds what comes" equal "$(zstdcat "$path"/frames-*.log.zst | grep -c ' 2A2#')" 100
check "nothing half-made is left" equal "$(ls -A sessions | grep -vc '^2')" 1
stop_daemon
umount sessions
finish
