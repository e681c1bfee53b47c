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

finish
