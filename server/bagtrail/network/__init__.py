"""The farm's own secure network: its certificate authority, its name, and how phones are let in.

ca         root and intermediate, made once; the folder ``ca`` of the data folder, in backups
leaf       the server's certificate, made anew when it is due
names      the farm's .local name, its addresses, which of them a certificate may carry
mdns       the name on the network
relay      plain http on the farm's own computer in front of the one https server
welcome    the plain-http page that a phone meets first
lan        all of that together, beside the server's process
phones     what phones tell of themselves;  health  how everything does
steps, pairing_sheet, qr   the same steps on screen and on paper
"""
