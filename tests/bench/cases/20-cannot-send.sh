# SPDX-License-Identifier: MIT
# nodoffd cannot send: not by its controller, not by a CAN socket, not at all.
sender_up can1
ip link set can0 type can bitrate 500000
ip link set can0 up
try-to-send can0 > attempts
status=$?
check "every way to send is refused under the filter" equal "$status" 0
[ $status = 0 ] || sed 's/^/#   /' attempts
check "before the filter the same program could send" equal "$(head -1 attempts)" "before the filter: sent"
check "the other node heard that one frame and no other" equal "$(counter can1 rx_packets)" 1
ip link set can0 down

sent_before="$(counter can0 tx_packets) $(counter can0 tx_dropped)"
start_daemon -i can0=500000
mode=$(ip -d link show can0)
check "nodoffd set the controller to listen-only" contains "$mode" '<.*LISTEN-ONLY.*>'
check "with the bitrate" contains "$mode" 'bitrate 500000'
check "its filter is in force" contains "$(cat /proc/$daemon/status)" 'Seccomp:.*2'
before=$(counter can1 rx_packets)
for i in 1 2 3 4 5; do cansend can1 12$i#0102; done
wait_for 5 status_says 'can0: listening, 5 frames'
check "it heard five frames" status_says 'can0: listening, 5 frames, 0 lost, 0 error'
check "it sent nothing" equal "$(counter can0 tx_packets) $(counter can0 tx_dropped)" \
	"$sent_before"
check "the other node heard nothing" equal "$(counter can1 rx_packets)" "$before"
stop_daemon
check "it ends cleanly" equal "$?" 0

# An interface that is up and acknowledges is not used.
ip link set can0 down
ip link set can0 type can bitrate 500000 listen-only off
ip link set can0 up
start_daemon -i can0=500000
check "an acknowledging interface is refused and said" status_says \
	'can0: not used, 0 frames.*acknowledges'
cansend can1 321#11
ip link set can0 down
ip link set can0 type can listen-only on
ip link set can0 up
wait_for 5 status_says 'can0: listening'
check "listen-only again, it is used by itself" status_says 'can0: listening, 0 frames'
stop_daemon
finish
