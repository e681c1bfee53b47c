# SPDX-License-Identifier: MIT
# What a laptop on its battery pays: how often nodoffd wakes the processor where a network
# sleeps, and its processor time beside candump -l at 1,000 frames a second, with the IDs of a
# network and with 2,048 random ones.
ip link add vcan0 type vcan
ip link set vcan0 up
cpu_us() { echo $(($(cut -d" " -f1 "/proc/$1/schedstat") / 1000)); }
switches() { awk '/^(non)?voluntary_ctxt_switches/ { n += $2 } END { print n }' "/proc/$1/status"; }
mkdir dump
start_daemon -i vcan0
(cd dump && exec candump -l vcan0 > /dev/null 2>&1) &
dump=$!
background+=("$dump")
cansend vcan0 111#22
sleep 5
before=$(switches $daemon)
sleep 20
asleep=$(($(switches $daemon) - before))
echo "# asleep: $asleep switches in 20 s"
# Measured: 1.3 a second.
check "asleep, no more than two wake-ups a second" test $asleep -le 40

# heard FILE TIMES: the least share of candump's time of three rounds, percent
heard() {
	local daemon_before dump_before share least=1000
	for _ in 1 2 3; do
		daemon_before=$(cpu_us $daemon) dump_before=$(cpu_us $dump)
		canplayer -l "$2" -I "$1" vcan0=vcan0
		sleep 1
		share=$((($(cpu_us $daemon) - daemon_before) * 100 / ($(cpu_us $dump) - dump_before)))
		[ $share -lt $least ] && least=$share
	done
	echo $least
}
traffic() { # COMMAND THAT PRINTS AN ID FOR $i
	for i in $(seq 1000); do
		printf '(1.%03d000) vcan0 %03X#%016X\n' $((i - 1)) $(($1)) $((i * 2654435761))
	done
}
traffic '0x100 + i % 60 * 8' > usual
share=$(heard usual 8)
echo "# 1,000 frames a second of 60 IDs: $share % of candump's processor time"
check "60 IDs: no more processor time than candump -l" test "$share" -le 100
traffic '(i * 2654435761 >> 7 ^ RANDOM) % 2048' > random
share=$(heard random 8)
echo "# 1,000 frames a second of random IDs: $share % of candump's processor time"
check "random IDs: no more processor time than candump -l" test "$share" -le 100
stop_daemon
kill $dump
ip link del vcan0
finish
