# SPDX-License-Identifier: MIT
# Who may do what: no capability in the process that listens, one in the
# process that sets interfaces up, and no root at all where it is set up already.
sets() { sed -n 's/^Cap\(Inh\|Prm\|Eff\|Bnd\|Amb\):\t0*/\1 /p' "/proc/$1/status" | tr '\n' ' '; }
ids() { sed -n 's/^\([UG]id\):\t//p' "/proc/$1/status" | tr '\t\n' '  '; }
children() { cat "/proc/$1/task/$1/children"; }
as() { # as USER COMMAND...: setpriv keeps nothing of root
	local user=$1
	shift
	exec setpriv --reuid "$user" --regid "$user" --clear-groups --inh-caps=-all --bounding-set=-all "$@"
}

sender_up can1
sender_up can3
mkdir -p home
chown nodoff:nodoff home
nodoffd --user nodoff --group nodoff --socket "$PWD/home/sock" --sessions "$PWD/home" \
	-i can0=500000 -i can2=500000 > daemon.log 2>&1 &
daemon=$!
background+=("$daemon")
export NODOFF_SOCKET=$PWD/home/sock
wait_for 15 nodoff record list || sed 's/^/#   /' daemon.log
switcher=$(children $daemon | tr -d ' ')
check "it runs as the service's user" equal "$(ids $daemon)" "900 900 900 900 900 900 900 900 "
check "the listening process has no capability in any set" equal "$(sets $daemon)" "Inh  Prm  Eff  Bnd  Amb  "
check "its helper is the service's user, too" equal "$(ids "$switcher")" "900 900 900 900 900 900 900 900 "
check "the helper has CAP_NET_ADMIN and nothing else" equal "$(sets "$switcher")" \
	"Inh  Prm 1000 Eff 1000 Bnd  Amb  "
check "both can gain nothing and are under a filter" equal \
	"$(sed -n 's/^\(NoNewPrivs\|Seccomp\):\t//p' "/proc/$daemon/status" "/proc/$switcher/status" | tr '\n' ' ')" \
	"1 2 1 2 "
check "the helper has two sockets and no file" equal \
	"$(for fd in "/proc/$switcher/fd"/*; do readlink "$fd" | sed 's/:.*//'; done | sort | uniq -c | tr -s ' \n' ' ')" \
	" 3 /dev/null 2 socket "
check "the interface was set up listen-only" contains "$(ip -d link show can0)" '<.*LISTEN-ONLY.*>'
cangen can1 -g 2 -I 2A0 -L 8 -n 50
wait_for 5 status_says 'can0: listening, 50 frames'
check "it records" status_says 'can0: listening, 50 frames, 0 lost'
check "the recording is the user's" equal "$(stat -c '%U' home/*/journal.log)" nodoff

slot=$(basename "$(readlink -f /sys/class/net/can2/device)")
echo 1 > "/sys/bus/pci/devices/$slot/remove"
wait_for 5 status_says 'can2: not plugged in'
echo 1 > /sys/bus/pci/rescan
wait_for 10 status_says 'can2: listening'
check "an adapter plugged in again is set up again, listen-only" contains \
	"$(ip -d link show can2 | tr '\n' ' ')" '<.*LISTEN-ONLY.*> .*bitrate 500000'
check "libsocketcan reads the same of it" contains "$(read-interface can2)" \
	'500000 bit/s, listen-only, restarts after [1-9][0-9]* ms, error-active'
cansend can3 222#44
wait_for 5 status_says 'can2: listening, 1 frames'
check "and is heard" status_says 'can2: listening, 1 frames'

check "the socket is its user's and one group's" equal "$(stat -c '%U %G %a' home/sock)" "nodoff nodoff 660"
check "a member of the group may use it" setpriv --reuid 901 --regid 901 --groups 900 nodoff mark note hello
check "another user may not" equal "$( (as 901 nodoff mark note hello > said 2>&1); echo $?)" 4
check "and is told why" grep -qi 'permission denied' said
stop_daemon
check "it ends cleanly, and so does its helper" equal "$? $(wait_for 5 test ! -e "/proc/$switcher"; echo $?)" "0 0"

# Started by root without an account to become: still no capability.
start_daemon -i can0=500000
check "root's process has no capability either" equal "$(sets $daemon)" "Inh  Prm  Eff  Bnd  Amb  "
stop_daemon

# Started by somebody without any privilege, on an interface that is up.
ip link set can0 down
ip link set can0 type can bitrate 500000 listen-only on
ip link set can0 up
mkdir plain
chown 901 plain
ip link set can2 down
as 901 nodoffd --socket "$PWD/plain/sock" --sessions "$PWD/plain" -i can0=500000 -i can2=500000 > daemon.log 2>&1 &
daemon=$!
background+=("$daemon")
export NODOFF_SOCKET=$PWD/plain/sock
wait_for 15 nodoff record list || sed 's/^/#   /' daemon.log
cangen can1 -g 2 -I 2A0 -L 8 -n 20
wait_for 5 status_says 'can0: listening, 20 frames'
check "without any privilege it records what others have set up" status_says 'can0: listening, 20 frames'
check "and has no helper" equal "$(children $daemon)" ""
check "it says what it may not do" status_says 'can2: .*needs CAP_NET_ADMIN'
stop_daemon

# A nodoffd of one's own: its places are this person's, and nodoff finds them untold.
mkdir own
chown 901 own
own() { # own COMMAND...: somebody who has only a home
	as 901 env -u NODOFF_SOCKET -u XDG_DATA_HOME HOME="$PWD/own" XDG_RUNTIME_DIR="$PWD/own" "$@"
}
asks() { (own nodoff "$@"); }
hears() { asks record status | grep -q "can0: listening, $1 frames"; }
own nodoffd -i can0 > daemon.log 2>&1 &
daemon=$!
background+=("$daemon")
wait_for 15 asks record list || sed 's/^/#   /' daemon.log
cangen can1 -g 2 -I 2A0 -L 8 -n 20
wait_for 5 hears 20
check "without root, told nothing but the interface, it records" hears 20
check "nobody else may use its socket or read its recordings" equal \
	"$(stat -c %a own/nodoff own/.local/share/nodoff)" "700
700"
name=$(basename "$(asks record stop)")
check "its recording is found by its name" contains "$(asks analyse "$name")" '20 frames in'
stop_daemon
finish
